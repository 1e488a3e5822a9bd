"""Workbooks: books as values, one module that writes them, and what reads them back.

A workbook is a `Book` of sheets (`sheets/book.py`): rows of cells, each a text or number with a `Style`, and for
every sheet a `Layout` (widths, drop-downs, what stays in sight, how it prints), which is equal for labs that differ
in their texts alone. `answer_book.py`, `marked_book.py`, `results_book.py`, `exercise_book.py` and
`overrides_book.py` make books; `write_...` beside each gives the file. `sheets/saving.py` turns a book into bytes: it
fills in the frame of a file that `openpyxl_file.py`, the readable way to the same bytes, has written once. Tests look at
values; `tests/sheets/test_saving.py` looks at what becomes of them in the file, in both ways. How a style looks stands
in `style.py`, how high text is and what a file can hold of it in `cells.py`, how many pages rows take in `paging.py`.
The reader (`intake.py`) shares nothing with the writer but `placement.py` and `cell_names.py`.
"""
