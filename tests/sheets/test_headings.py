"""Finding the row with the headings, wherever it has moved to."""

from trainer.sheets.headings import HeadRow, find_head_row
from trainer.sheets.intake import ReturnedCell, ReturnedSheet


def sheet_of(*rows: str, first: int = 1) -> ReturnedSheet:
    """Rows of cells with bars between them."""
    cells = {
        (row, column): ReturnedCell(text=text)
        for row, line in enumerate(rows, first)
        for column, text in enumerate(line.split("|"), 1)
        if text
    }
    return ReturnedSheet(name="Ports", is_hidden=False, cells=cells)


HEADINGS = ("Port", "Plugged in", "VLAN or routed")


def test_the_row_with_most_of_the_headings_is_found():
    head = find_head_row(sheet_of("Ports|Port", "Port|Plugged in|VLAN or routed", "A/2|server|10", first=4), HEADINGS)
    assert head is not None
    assert head.row == 5
    assert head.columns(HEADINGS) == {"Port": 1, "Plugged in": 2, "VLAN or routed": 3}


def test_of_two_such_rows_the_first_counts():
    head = find_head_row(sheet_of("Port|Plugged in", "Port|Plugged in"), HEADINGS)
    assert head is not None
    assert head.row == 1


def test_a_heading_that_is_repeated_counts_once_and_its_first_column_is_its_own():
    head = find_head_row(sheet_of("Port|Port|Port", "x|Port|Plugged in|Port"), HEADINGS)
    assert head == HeadRow(2, {"x": (1,), "port": (2, 4), "plugged in": (3,)})
    assert head.columns(HEADINGS) == {"Port": 2, "Plugged in": 3}
    assert head.columns_of("PORT") == (2, 4)


def test_case_and_blanks_do_not_matter_and_headings_that_are_not_there_have_no_column():
    head = find_head_row(sheet_of(" PORT |plugged  IN|VLAN"), HEADINGS)
    assert head is not None
    assert head.columns(HEADINGS) == {"Port": 1, "Plugged in": 2}


def test_error_a_sheet_without_any_of_the_headings_has_no_such_row():
    assert find_head_row(sheet_of("A/2|server|10"), HEADINGS) is None
    assert find_head_row(sheet_of(), HEADINGS) is None
