"""Rules of the Brief: what texts say of a rule is said of one that there is, by the number that is printed."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from drawn_labs import bakery

from trainer.lab.brief import brief
from trainer.lab.house_rules import HouseRule, numbered
from trainer.lab.questions import FORM

TRAINER = Path(__file__).parents[2] / "trainer"
BY_TITLE = re.compile(r"\b[Rr]ules? ([A-Z][a-z]+)(?: and ([A-Z][a-z]+))?")
BY_NUMBER = re.compile(r"\b[Rr]ules? (?:\d|one|two|three|four|five|six|seven|eight|nine|ten)")


@cache
def texts(module: Path) -> tuple[str, ...]:
    """All that a module may say, without its docstrings."""
    nodes = list(ast.walk(ast.parse(module.read_text(encoding="utf-8"))))
    said = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    return tuple(
        node.value
        for node in nodes
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said
    )


def test_no_text_types_the_title_of_a_rule():
    """f"rule {HouseRule.ORDER}": no text can call one that there is not, and one that has another title is called by it."""
    typed = {module.name for module in TRAINER.rglob("*.py") if any(BY_TITLE.search(text) for text in texts(module))}
    assert typed == set()


def test_no_text_types_the_number_of_a_rule():
    """Numbers are given when printing: f"rule {HouseRule.ORDER.number}", or `numbered`."""
    typed = {
        module.relative_to(TRAINER).as_posix()
        for module in TRAINER.rglob("*.py")
        if any(BY_NUMBER.search(text) for text in texts(module))
    }
    assert typed == set()


def test_the_search_for_typed_numbers_finds_them():
    assert BY_NUMBER.search("source: rules 4 and 9 of the Brief")
    assert BY_NUMBER.search("Where does rule nine let the pool begin?")
    assert BY_TITLE.findall("rules Links and Nothing of this lab") == [("Links", "Nothing")]


def test_every_rule_decides_a_section_but_the_one_about_plans_that_contradict_themselves():
    assert {rule for section in FORM for rule in section.decided_by} == set(HouseRule) - {HouseRule.CONFLICTS}


def test_the_number_of_a_rule_is_its_place_on_the_brief():
    rules = next(part for part in brief(bakery()) if part.title.startswith("House rules")).lines
    assert [label for label, _ in rules] == [f"{rule.number:>2}  {rule}" for rule in HouseRule]


def test_what_is_otherwise_at_work_stands_beside_the_number_of_its_rule():
    numbers = {f"Rule {rule.number}": rule for rule in HouseRule}
    at_work = dict(next(part for part in brief(bakery()) if part.title.startswith("At work")).lines)
    assert set(at_work) <= set(numbers)
    assert "Option 82" in at_work[f"Rule {HouseRule.RELAYS.number}"]


@pytest.mark.parametrize(
    ("rules", "words"),
    [
        ([HouseRule.BLOCK], "rule 1"),
        ([HouseRule.SIZE, HouseRule.BLOCK], "rules 1 and 2"),
        ([HouseRule.ORDER, HouseRule.BLOCK, HouseRule.SIZE], "rules 1 to 3"),
        ([HouseRule.BLOCK, HouseRule.SIZE, HouseRule.GATEWAY], "rules 1, 2 and 4"),
    ],
)
def test_rules_are_listed_by_their_numbers(rules: list[HouseRule], words: str):
    assert numbered(rules) == words
