"""What the Brief of a fault-finding lab says, and what it does not."""

from dataclasses import replace

import pytest
from repair_labs import kept_lab

from trainer.lab.brief import brief
from trainer.lab.scenario import Scenario

LABS = ("faults-harmless", "faults-two", "same-address", "no-fault")


def lines(lab: Scenario) -> dict[str, str]:
    return {label.strip(): text for part in brief(lab) for label, text in part.lines}


def test_one_fault_is_told_of_as_one():
    assert (
        "One setting is wrong, and something on sheet Symptoms comes from it." in lines(kept_lab("faults-harmless"))[""]
    )
    assert (
        "Two settings are wrong, and something on sheet Symptoms comes from each of them."
        in lines(kept_lab("faults-two"))[""]
    )


@pytest.mark.parametrize("name", LABS)
def test_no_rule_speaks_of_a_sheet_that_is_not_there(name: str):
    """Sheets of a plan stand on sheets Found under names of their own."""
    told = " ".join(text for part in brief(kept_lab(name)) for _, text in part.lines)
    for sheet in ("Subnets", "Bindings", "Stations", "Links"):
        assert f"sheet {sheet}" not in told


def test_it_is_told_how_a_laptop_of_a_test_is_set():
    lab = kept_lab("faults-two")
    assert lab.repair is not None
    assert "spare port" in lines(lab)["Laptops"]
    tests = tuple(replace(each, what="Pilots 1 pings Pilots 2") for each in lab.repair.tests)
    assert "Laptops" not in lines(replace(lab, repair=replace(lab.repair, tests=tests)))


def test_of_harmless_lines_it_is_told_where_there_may_be_some():
    lab = kept_lab("faults-two")
    assert lab.repair is not None
    plain = lines(replace(lab, repair=replace(lab.repair, decoys=())))
    assert {"Harmless", "A harmless line"} <= lines(lab).keys()
    assert plain.keys().isdisjoint({"Harmless", "A harmless line"})
