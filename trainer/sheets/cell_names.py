"""What cells and columns are called by spreadsheet programs."""

from functools import lru_cache

__all__ = ["cell_name", "cell_place", "column_name", "column_number"]


def cell_name(row: int, column: int) -> str:
    """A cell as spreadsheet programs call it.

    >>> cell_name(7, 4)
    'D7'
    """
    return f"{column_name(column)}{row}"


@lru_cache(maxsize=1024)
def column_name(column: int) -> str:
    """The letters of a column, which is counted from 1.

    >>> column_name(1), column_name(26), column_name(27), column_name(702), column_name(703)
    ('A', 'Z', 'AA', 'ZZ', 'AAA')
    """
    letters = ""
    while column:
        column, place = divmod(column - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters


def column_number(name: str) -> int:
    """The number, from 1, of a column with that name, in letters from A to Z of either case.

    >>> column_number("A"), column_number("Zz")
    (1, 702)
    """
    number = 0
    for letter in name.upper():
        number = 26 * number + ord(letter) - ord("A") + 1
    return number


def cell_place(name: str) -> tuple[int, int]:
    """Row and column, from 1, of a cell that is called so.

    >>> cell_place("D7"), cell_place("AA10")
    ((7, 4), (10, 27))
    """
    letters = name.rstrip("0123456789")
    return int(name[len(letters) :]), column_number(letters)
