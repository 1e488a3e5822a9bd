r"""One file a command: read, work, write.

What comes back, and what others wrote
--------------------------------------
What comes back is read by `sheets/intake.py` on zipfile and expat with limits; nothing goes from a returned file into
ours except the text of answers. `grade` and `practise` have all that a returned file can bring about done in a
process of its own (`commands/watched_reader.py`): unpacking, finding whose it is (`sheets/paper.py`), finding its
answers, marking. One process does it for all files: a new interpreter with two pipes, the same on every system,
started before the register is read, without the libraries that write. A timer ends it after 2 s of reading or 15 s of
marking (what took too long is tried once more, for the machine may have paused), the system's own limit holds it to
200 and 300 MB (Linux; elsewhere the reader's limits do), and the next file starts another. A pool of
`multiprocessing` was tried: it imports the main program again, and runs it again where that has no guard. Where no
process can be started the same code works here. Of large classes several such processes read and mark, and others
draw, prove and make files for `set` (`commands/side_by_side.py`, `helper_process.py`): a thread for each hands it one
lab after the other and writes what comes back, the results are taken in order. Helpers touch no file, so whatever
ends them leaves none half-written, and they end when nobody asks them any more. The reader's limits are such that
none of this happens: cells, texts that are not ASCII (`intake.MAX_FOREIGN`), columns, rows and sheets alike, all
answers together (`returned_book.ROOM_FOR_TEXT`). `tests/corpus/growing.py` grows files in one dimension at a time. Of
a file its answers are kept, packed, and no cell else. `commands/hand_ins.py` says which file counts,
`commands/stray_marks.py` whose file is gone. A fault of marking is that file's alone: named, logged, exit status 3
(`practise` says it once a save). `instructor/told.json` holds which marks have been told, so that a change is told
also after a run that was killed. `.ods` is refused in words: odfpy has had no release since 2020, python-calamine
gives typed values instead of what was typed and knows no limits (both from memory), and every program that writes it
writes `.xlsx` too. What a spreadsheet program made of a value, and letters that only look right
(`lab/look_alikes.py`), are told before any mistake of the catalogue (`ReadForm.unreadable` holds a sentence). That
text, names and names of files are data wherever they are written: text cells, escaped pages, `csv_text.harmless` in
the results; `commands/terminal.py` wraps standard output and standard error and prints as `\uXXXX` what would steer a
terminal or is not in its encoding (JSON reads the same); `say` and `say_table` do so too, and write their colours
past the wrapper. `tests/test_nothing_injected.py` walks every file that the commands write; a kind of file it does
not know fails there.

What `--json` prints
--------------------
One object on standard output and nothing else there.
- `check`: `{"problems": [{"sheet", "cell", "found", "wanted", "fix"}], "notes": [""], "sheets": [{"section", "copied",
  "repeated", "worked_out"}]}`; notes name what of a brief a handout cannot show, sheets count cells.
- `set`: `{"sitting", "folder", "labs": [{"lab", "trainee", "workbook", "key", "proven", "trials"}]}`;
  with `--zip` what `hand-back` has, too.
- `grade`: `{"sitting", "folder", "graded": [{"lab", "trainee", "file", "marked", "marks", "out_of", "percent",
  "works", "notices", "sections": [{"section", "marks", "out_of"}],
  "parts": [{"part", "marks", "out_of", "comment"}], "cells": [{"section", "sheet", "cell", "row", "question",
  "given", "expected", "verdict", "marks", "out_of", "mistake", "explanation", "consequence", "seen", "hint"}]}],
  "not_graded": [{"file", "reason"}], "changed": [{"trainee", "lab", "old", "new"}], "anew": ["lab"], "kept":
  [{"trainee", "lab", "file", "reason"}], "archives": ["file"],
  "left_aside": ["file"], "without_effect": [{"trainee", "attempt", "about", "why"}]}`; `changed` lists whose marks, of those
  graded in this run, differ from what was told of them last; `old` and `new` are exact decimal strings; `anew` lists labs
  whose file has changed, `kept` marks whose file is gone or another one; `attempt` is null where a decision is about every
  one. A cell the instructor decided has no verdict of its own: it is `right`, `partly` or `wrong` by its marks (one of an
  extra row stays `extra`), and its `explanation` starts with
  "The instructor's decision: " and the
  reason. Faulty decisions print nothing here: they are told on standard error, exit status 1. The object is for the
  instructor: whatever trainees may see, it holds what is right in every cell, explanation, consequence, what was seen
  and hint; derivations, steps and examples are not in it.
- `key`: `{"sitting", "folder", "keys": [{"lab", "trainee", "page", "workbook"}]}`; `workbook` is null where it is not.
- `results`: `{"sitting", "folder", "files", "handed_in", "excused", "trainees", "lines": [{"trainee", "lab",
  "percent", "passed", "works"}], "kept"}`; who is neither has handed nothing in, and has no line.
- `hand-back`: `{"sitting", "folder", "folders", "archive", "changed": ["lab"]}`; `archive` is null where nothing has changed.
- `exercises`: `{"folder", "exercises": [{"step", "exercise", "title", "trains"}]}`.

`works` is `{"leases": [4, 6], "pings": [60, 72], "attacks": null}`: what works of what the key shows, null what a lab lacks
(the whole of it for marks from before it was tried).
`cell` is the address in the returned file, null for a row that is missing. Marks are decimal strings, to a
thousandth: those of
sheets add up to the total exactly; those of cells are rounded for the object alone. `verdict` is
one of `right`, `follows`, `partly`, `again` (a slip of form that is charged in another cell of the sheet), `wrong`,
`blank`, `unreadable`, `extra`, `missing`, `struck`; `expected` is the follow-through
value where one holds. A wrong extra has negative marks, and a section never goes below zero. Paths are relative to
`folder`; a file outside it is absolute.
"""
