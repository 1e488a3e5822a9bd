"""Papers drawn at random: what one early error costs that is worked through, a slip in a free plan, several errors at once.

TRAINER_NIGHTLY=1 draws 200 chains an exercise, 500 slips and 1,000 papers; else fewer.
"""

import os
import random
from collections import Counter
from fractions import Fraction
from ipaddress import IPv4Address

import pytest
from filled_forms import filled
from random_papers import EXERCISES, chain, lab_of, worked_through

from trainer.commands.demo_class import key_texts
from trainer.lab.dependencies import rests_on
from trainer.lab.form import CellRef, RowKey, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS, subnets
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict

IS_NIGHTLY = bool(os.environ.get("TRAINER_NIGHTLY"))
CHAINS, SLIPS, PAPERS = (200, 500, 1000) if IS_NIGHTLY else (4, 8, 6)
PARTS = 10 if IS_NIGHTLY else 1
FLOOR = 80
"""What a consistent paper with one early error earns at least, of 100, as long as its plan stays in the block."""
OUT_OF_THE_BLOCK = 56
"""Where the first network is led out of the block, and all others behind it, what is left is half of all that is worked out
from them (R4): 56.6 where nothing but addresses is asked. More must not be left, for the addresses of another lab, copied,
are such a plan too.
"""


def texts_asked(lab: Scenario) -> dict[CellRef, str]:
    return {cell: text for cell, text in key_texts(lab).items() if cell.question.partition(".")[0] in lab.asked}


# One early error, worked through ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("exercise", sorted(EXERCISES))
def test_of_a_consistent_paper_the_root_is_charged_and_what_follows_counts_half_at_least(exercise: str) -> None:
    for number in range(CHAINS):
        lab = lab_of(exercise, number % 10)
        root, texts = chain(lab, random.Random(f"{exercise}{number}"))
        marked = mark(lab, filled(texts))
        halves = [
            each for each in marked.cells if _mistake(each) in ("follows-to-what-cannot-be", "easier-by-own-error")
        ]
        others = [each for each in marked.cells if not each.verdict.is_full and each not in halves]
        assert all(each.marks == each.out_of / 2 for each in halves), root
        led_out = any(_mistake(each) == "follows-to-what-cannot-be" for each in halves)
        assert marked.marks >= (OUT_OF_THE_BLOCK if led_out else FLOOR), root
        if lab.rules.has_choices:  # where each place is a choice, each that leaves the block is one more error
            others = [each for each in others if _mistake(each) != "own-plan-outside-block"]
        assert {(each.question, each.row) for each in others} <= {(root.cell.question, root.cell.row)}, root


@pytest.mark.parametrize(
    ("exercise", "short", "long"), [("addressing", 87, 97), ("two-switches", 99, 98), ("star-of-four", 97, 97)]
)
def test_a_first_prefix_one_bit_off_that_is_worked_through_costs_little(exercise: str, short: int, long: int) -> None:
    """The block has room for a network that is twice as large, so nothing is led out of it (R4)."""
    lab, key = lab_of(exercise, 0), SoFar(lab_of(exercise, 0))
    first = min(lab.vlans, key=lambda vlan: subnets.network_of(key, vlan.id))
    row = subnets.row_of(first.id)
    for bits, least in ((-1, short), (1, long)):
        wrong = {CellRef(subnets.PREFIX_LENGTH_OF.id, row): key.value(subnets.PREFIX_LENGTH_OF, row) + bits}
        assert least <= mark(lab, filled(worked_through(lab, wrong))).marks < 100


def _mistake(cell: CellMark) -> str:
    return "" if cell.explanation is None else cell.explanation.mistake


# Slips in a free plan --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", range(PARTS))
def test_one_wrong_network_cell_of_a_free_plan_charges_no_right_cell(part: int) -> None:
    for number in range(part, SLIPS, PARTS):
        rng = random.Random(number)
        lab = lab_of("free-plan", number % 4)
        texts = texts_asked(lab)
        cell = rng.choice([each for each in texts if each.question in ("subnets.network", "links.network")])
        texts[cell] = _slipped(lab, texts, cell, rng)
        lost = [(each.question, each.row) for each in mark(lab, filled(texts)).cells if not each.verdict.is_full]
        assert lost == [(cell.question, cell.row)], texts[cell]


def _slipped(lab: Scenario, texts: dict[CellRef, str], cell: CellRef, rng: random.Random) -> str:
    """Some addresses further or before, another network's, another block's, a digit changed, anywhere, or nothing."""
    text, start = texts[cell], IPv4Address(texts[cell])
    while True:
        digit = rng.choice([place for place, letter in enumerate(text) if letter.isdigit()])
        slip = rng.choice(
            (
                str(start + 2 ** rng.randrange(10)),
                str(start - 2 ** rng.randrange(10)),
                texts[rng.choice([each for each in texts if each.question == "subnets.network"])],
                str(start + lab.block.num_addresses * rng.randint(1, 3)),
                f"{text[:digit]}{rng.randrange(1, 10)}{text[digit + 1 :]}",
                str(lab.block[rng.randrange(lab.block.num_addresses)]),
                "",
            )
        )
        if slip != text:
            return slip


# Several errors at once ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", range(PARTS))
def test_several_errors_cost_what_each_costs_by_itself(part: int) -> None:
    """But where one lies in a cell that rests on another's, or the same slip of form is made twice (R15); and a row of an open
    sheet is known by what is right in it, so that no two are made in one.
    """
    compared = 0
    for number in range(part, PAPERS, PARTS):
        rng = random.Random(number)
        lab = lab_of(rng.choice(sorted(EXERCISES)), number % 5)
        right = texts_asked(lab)
        cells = rng.sample(sorted(right, key=lambda each: (each.question, each.row)), rng.randint(2, 6))
        wrong = {cell: _wrong_text(right, cell, rng) for cell in cells}
        marked = mark(lab, filled({**right, **wrong}))
        if (
            _hang_together(lab, cells)
            or _become_others(right, wrong)
            or any(each.verdict is Verdict.AGAIN for each in marked.cells)
        ):
            continue
        compared += 1
        singly = [_lost(mark(lab, filled({**right, cell: text}))) for cell, text in wrong.items()]
        assert _lost(marked) == sum(singly), wrong
    assert compared


def _lost(marked: Marked) -> Fraction:
    return sum((each.out_of - each.marks for each in marked.cells), Fraction(0))


def _wrong_text(right: dict[CellRef, str], cell: CellRef, rng: random.Random) -> str:
    """Nothing, a digit changed, or what stands in another cell of the kind."""
    kind, text = QUESTIONS[cell.question].kind, right[cell]
    others = sorted({each for ref, each in right.items() if QUESTIONS[ref.question].kind is kind} - {text})
    digits = [place for place, letter in enumerate(text) if letter.isdigit()]
    how = rng.randrange(4)
    if how == 0 or not (others or digits):
        return ""
    if digits and (how == 1 or not others):
        place = rng.choice(digits)
        return f"{text[:place]}{rng.choice([each for each in '123456789' if each != text[place]])}{text[place + 1 :]}"
    return rng.choice(others)


def _hang_together(lab: Scenario, cells: list[CellRef]) -> bool:
    """Whether one of the cells rests on another, directly or not, or two stand in one open row."""
    of_key = [CellRef(each.question, _key_row(lab, each)) for each in cells]
    open_rows = [(each.question.partition(".")[0], each.row) for each in cells]
    rows = [each for each in open_rows if SECTIONS[each[0]].open is not None]
    return len(set(rows)) < len(rows) or any(_below(lab, each) & (set(of_key) - {each}) for each in of_key)


def _become_others(right: dict[CellRef, str], wrong: dict[CellRef, str]) -> bool:
    """Whether two rows of an open sheet are wrong, one of which holds what another of its rows does: they may have become each
    other, and rows are known by what stands in them (R8).
    """
    sheets = Counter(section for cell in wrong if SECTIONS[section := cell.question.partition(".")[0]].open is not None)
    return any(
        sheets[cell.question.partition(".")[0]] > 1
        and any(ref.question == cell.question and each == text for ref, each in right.items())
        for cell, text in wrong.items()
    )


def _key_row(lab: Scenario, cell: CellRef) -> RowKey:
    section = SECTIONS[cell.question.partition(".")[0]]
    return cell.row if section.open is None else section.rows(lab)[int(cell.row.rsplit(" ", 1)[1]) - 1].key


def _below(lab: Scenario, cell: CellRef) -> set[CellRef]:
    """All that a cell rests on."""
    key, found, waiting = SoFar(lab), set[CellRef](), [cell]
    while waiting:
        here = waiting.pop()
        new = set(rests_on(lab, key, QUESTIONS[here.question], here.row)) - found
        found |= new
        waiting += new
    return found
