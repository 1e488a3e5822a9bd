"""Each rule of the standards about routing (R), DHCP (D) and snooping (S) has a test that names it, or a reason.

The table stands in tests/cases/facts/rules.csv: what the rule says in a few words, where it is from, and which test
of this folder shows it.
"""

import ast
from pathlib import Path

from published import rows_of

RULES = rows_of("rules")
HERE = Path(__file__).parent


def function(module: str, name: str) -> str:
    """The source of a test, its parameters among it."""
    text = (HERE / f"{module}.py").read_text(encoding="utf-8")
    node = next(each for each in ast.parse(text).body if isinstance(each, ast.FunctionDef) and each.name == name)
    return ast.get_source_segment(text, node) or ""


def test_all_rules_are_in_the_table():
    assert [rule["id"] for rule in RULES] == [
        *(f"R{number}" for number in range(1, 20)),
        *(f"D{number}" for number in range(1, 28)),
        *(f"S{number}" for number in range(1, 34)),
    ]


def test_each_rule_has_a_test_that_names_its_section_or_a_reason_why_not():
    wrong = []
    for rule in RULES:
        if bool(rule["test"]) == bool(rule["not_ours"]):
            wrong.append(f"{rule['id']}: a test or a reason, one of the two")
        elif rule["test"]:
            source = function(rule["module"], rule["test"])
            if rule["source"] not in source or rule["section"].casefold() not in source.casefold():
                wrong.append(f"{rule['id']}: {rule['test']} does not name {rule['source']} {rule['section']}")
    assert wrong == []
