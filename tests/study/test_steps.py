"""Steps tell the way to every cell with true numbers, and what stands filled in on a practice sheet is right and fades."""

from collections.abc import Iterator

import pytest
from drawn_labs import bakery, changed, draw, exercise_of

from trainer.commands import watched_reader
from trainer.lab.brief import BriefPart
from trainer.lab.form import CellRef, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.marks import Verdict
from trainer.sheets.answer_book import practice_book, write_practice_book
from trainer.sheets.book import Style
from trainer.study.examples import example_for
from trainer.study.fading import filled_in
from trainer.study.labs import short
from trainer.study.steps import grouped, in_working_order, worked_row

LAB = bakery()


def labs() -> Iterator[Scenario]:
    yield LAB
    for choices in (
        {"order": "a range a switch", "gateway": "last usable", "dns_server": "the DHCP server"},
        {"order": "free", "gateway": "free"},
        {"order": "as listed", "link_lengths": "/31"},
    ):
        yield from draw(exercise_of(changed(**choices)), 1)


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_every_cell_has_its_step_behind_those_it_is_worked_out_from(section):
    for lab in labs():
        order = [question.id for question in in_working_order(lab, section)]
        assert sorted(order) == sorted(question.id for question in section.questions_in(lab))
        key = SoFar(lab)
        for row in section.rows(lab)[:3]:
            worked = worked_row(lab, section.id, row)
            assert [step.question.id for step in worked.steps] == order
            for step in worked.steps:
                assert step.value == step.question.kind.show(key.value(step.question, row.key))
                assert step.how.endswith(".")
                assert step.value in step.in_numbers


def test_the_size_comes_before_the_place():
    assert [question.id for question in in_working_order(LAB, SECTIONS["subnets"])] == [
        "subnets.prefix",
        "subnets.network",
        "subnets.first",
        "subnets.last",
        "subnets.broadcast",
        "subnets.gateway",
        "subnets.mask",
    ]
    assert [len(step) for step in grouped(LAB, SECTIONS["subnets"])] == [1, 1, 3, 1, 1]
    assert [len(step) for step in grouped(LAB, SECTIONS["links"])] == [1, 1, 1, 1], "one concept: each cell is a step"


def test_how_it_is_done_names_no_number_that_is_asked():
    """It is told of a blank cell of the own lab."""
    for lab in labs():
        key = SoFar(lab)
        for question in QUESTIONS.values():
            section = SECTIONS[question.id.partition(".")[0]]
            for row in section.rows(lab):
                if question in section.questions_in(lab) and not question.choices(lab):
                    value = question.kind.show(key.value(question, row.key))
                    assert len(value) < 3 or value not in question.how(lab).split(), question.id


def test_an_example_has_other_values_than_the_row_it_is_for():
    (other,) = draw(exercise_of(changed()), 1)
    for row in SECTIONS["subnets"].rows(LAB):
        worked = example_for(LAB, other, "subnets", row.key)
        assert worked is not None
        key = SoFar(LAB)
        lengths = {step.question.id: step.value for step in worked.steps}
        network = QUESTIONS["subnets.network"]
        assert lengths["subnets.network"] != network.kind.show(key.value(network, row.key))
        assert "behind VLAN" in worked.steps[1].reason, "a row that shows the whole way"


# --- Fading -----------------------------------------------------------------------------------------------------------


def test_a_step_less_stands_filled_in_in_every_row_and_the_last_is_left_whole():
    rows = [row.key for row in SECTIONS["subnets"].rows(LAB)]

    def counts(support: int) -> list[int]:
        found = filled_in(short(LAB, ("subnets",)), support)
        return [sum(cell.row == row for cell in found) for row in rows]

    assert [counts(support) for support in range(1, 6)] == [
        [7, 6, 5, 2, 0],
        [6, 5, 2, 1, 0],
        [5, 2, 1, 0, 0],
        [0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0],
    ]


def test_a_row_that_is_written_freely_stands_there_only_if_it_says_which_one_it_is():
    """Of a route without its destination nobody could tell what it is for."""
    asked = {"routes.switch", "routes.destination"}
    for support in (1, 2, 3):
        found = filled_in(short(LAB, ("routes",)), support)
        for row in {cell.row for cell in found}:
            assert asked <= {cell.question for cell in found if cell.row == row}


def test_a_sheet_of_one_row_is_left_to_do():
    assert filled_in(short(LAB, ("links",)), 1) == ()


@pytest.mark.parametrize("support", [1, 2, 3, 4])
def test_what_is_handed_out_is_read_back_as_right_where_filled_in_and_blank_elsewhere(support: int):
    given = frozenset(filled_in(LAB, support))
    examples = [worked_row(LAB, section, SECTIONS[section].rows(LAB)[0]) for section in LAB.asked]
    data = write_practice_book(
        LAB, derive_key(LAB), (BriefPart("Ours", (("", "Our own words."),)),), given, examples if support < 4 else ()
    )
    form = watched_reader.watched_reader.form(data, LAB)
    assert form.notices == ()
    marked = watched_reader.watched_reader.marked(LAB, form.filled)
    found = {CellRef(cell.question, cell.row): cell.verdict for cell in marked.cells}
    assert {cell for cell, verdict in found.items() if verdict is Verdict.RIGHT} == given
    assert {verdict for cell, verdict in found.items() if cell not in given} <= {Verdict.BLANK, Verdict.MISSING}


def test_filled_cells_are_locked_and_the_first_row_says_how_it_was_worked_out():
    lab = short(LAB, ("subnets",))
    given = frozenset(filled_in(lab, 1))
    book = practice_book(
        lab, derive_key(lab), (), given, [worked_row(lab, "subnets", SECTIONS["subnets"].rows(lab)[1])]
    )
    by_name = {sheet.name: sheet for sheet in book.sheets}
    assert list(by_name)[:4] == ["Brief", "Given", "Steps", "Subnets"]
    head, first = by_name["Subnets"].rows[4:6]
    assert head.cells[-1].value == "How row 1 was worked out"
    assert str(first.cells[-1].value).startswith("Prefix length 28: 12 needed + network and broadcast = 14")
    assert {cell.style for cell in first.cells[3:10]} == {Style.GIVEN}
    assert [row.cells[0].value for row in by_name["Steps"].rows[4:7]] == [
        "Step",
        "1 Prefix length",
        "2 Network address",
    ]
    texts = [str(cell.value) for sheet in book.sheets for row in sheet.rows for cell in row.cells]
    assert not any("of 100" in text for text in texts)


def test_levels_that_fade_nothing_have_no_sheet_of_steps():
    names = [sheet.name for sheet in practice_book(LAB, derive_key(LAB)).sheets]
    assert "Steps" not in names
    assert names[-1] == "Notes"
