"""Letters that look like the right ones are told, never read as what they look like."""

import pytest

from trainer.lab.answers import CellText, FilledForm, read_answers
from trainer.lab.form import CellRef
from trainer.lab.kinds import ADDRESS, BINDING_TYPE, MAC, PORT, PORT_SET, PREFIX_LENGTH, SWITCH, VLAN, Kind
from trainer.lab.look_alikes import look_alike
from trainer.lab.rows import VlanRow

ONLY_LOOKS = "Type it again with Latin letters and digits."
DIGITS = "Type it again with digits."


@pytest.mark.parametrize(
    ("kind", "text", "words"),
    [
        (MAC, "02-00-5Е-00-53-01", f"holds a Cyrillic letter that only looks like E. {ONLY_LOOKS}"),
        (MAC, "02-00-5Ε-00-53-01", f"holds a Greek letter that only looks like E. {ONLY_LOOKS}"),
        (MAC, "О2-00-5E-00-53-01", f"holds a Cyrillic letter that only looks like O. {ONLY_LOOKS}"),
        (SWITCH, "А", f"holds a Cyrillic letter that only looks like A. {ONLY_LOOKS}"),
        (PORT, "В/7", f"holds a Cyrillic letter that only looks like B. {ONLY_LOOKS}"),
        (BINDING_TYPE, "stаtic", f"holds a Cyrillic letter that only looks like a. {ONLY_LOOKS}"),
        (ADDRESS, "1O.0.0.1", f"has the letter O where the digit 0 belongs. {DIGITS}"),
        (ADDRESS, "10.0.0.l", f"has the small letter l where the digit 1 belongs. {DIGITS}"),
        (PREFIX_LENGTH, "/3O", f"has the letter O where the digit 0 belongs. {DIGITS}"),
        (VLAN, "I20", f"has the letter I where the digit 1 belongs. {DIGITS}"),
        (MAC, "02-O0-5E-00-53-01", f"has the letter O where the digit 0 belongs. {DIGITS}"),
    ],
)
def test_error_the_letter_is_named_with_what_it_was_taken_for(kind: Kind[object], text: str, words: str):
    assert look_alike(text, kind) == f"{text!r} {words}"


@pytest.mark.parametrize("text", ["10.0.0", "hello", "Оh", "10.0.0.256", ""])
def test_what_would_be_no_value_either_is_no_matter_of_letters(text: str):
    assert look_alike(text, ADDRESS) == ""


@pytest.mark.parametrize("word", ["all", "All", "alle", "nil", "ALL"])
def test_a_word_is_no_number_with_a_wrong_letter(word: str):
    assert look_alike(word, PORT_SET) == ""


def test_error_such_a_cell_cannot_be_read_and_says_why():
    cell = CellRef("subnets.gateway", VlanRow(10))
    read = read_answers(FilledForm(texts={cell: CellText("1O.0.0.1")}, rows={}))
    assert dict(read.answers.values) == {}
    assert read.unreadable == {cell: f"'1O.0.0.1' has the letter O where the digit 0 belongs. {DIGITS}"}
