"""Networks as found, with their faults in them, built for real: what sheet Symptoms prints is seen there, tables and counters
included, and what sheet Tests asks for comes out as the key says, before and after the repair.

Run when asked for, as test_kernel.py. TRAINER_NIGHTLY=1 builds 48 drawn labs over all levels instead of 4.
"""

import os

import pytest
from measuring import why_not_here
from repair_labs import drawn_sheet, kept_lab
from symptoms import outcomes_for_real, seen_for_real

from trainer.lab.build import build
from trainer.lab.key import derive_key
from trainer.lab.repair.found import with_edits
from trainer.lab.repair.observing import complaint_of, observe, to_observe
from trainer.lab.scenario import Scenario
from trainer.network.devices import Network

TESTED = 12 if os.environ.get("TRAINER_NIGHTLY") else 1
DRAWN = 48 if os.environ.get("TRAINER_NIGHTLY") else 4
REASON = why_not_here()
pytestmark = [pytest.mark.kernel, pytest.mark.skipif(bool(REASON), reason=REASON)]


def found_network(lab: Scenario) -> Network:
    assert lab.repair is not None
    return build(lab, with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys))).network


def assert_symptoms_are_seen(lab: Scenario) -> None:
    """Everything that can be looked at, also the counters that a level does not print; and what is printed is that."""
    assert lab.repair is not None
    network, looks = found_network(lab), to_observe(lab, tables=True, counters=True)
    view = observe(lab, network, looks)
    seen = seen_for_real(lab, network, looks, view)
    assert {look.tried: (view[look], seen[look]) for look in looks if view[look] != seen[look]} == {}
    printed = {each.tried: each.seen for each in lab.repair.symptoms[1:]}
    assert printed.items() <= {look.tried: text for look, text in seen.items()}.items()
    complaint = complaint_of(seen)
    assert complaint is None or complaint.source in lab.repair.symptoms[0].seen


@pytest.mark.parametrize("name", ["faults-harmless", "faults-two", "same-address", "no-fault"])
def test_the_symptoms_of_a_kept_lab_are_seen_in_a_real_network(name: str):
    assert_symptoms_are_seen(kept_lab(name))


@pytest.mark.parametrize("seed", range(DRAWN))
def test_the_symptoms_of_a_drawn_lab_are_seen_in_a_real_network(seed: int):
    assert_symptoms_are_seen(drawn_sheet(seed))


@pytest.mark.parametrize("lab", [*("faults-two", "no-fault"), *range(TESTED)])
def test_the_tests_come_out_as_the_key_says(lab: str | int):
    """As found, and with the faults mended."""
    drawn = kept_lab(lab) if isinstance(lab, str) else drawn_sheet(lab)
    assert drawn.repair is not None
    mended = build(drawn, with_edits(derive_key(drawn), drawn.repair.decoys)).network
    for network, wanted in (
        (found_network(drawn), {each.id: each.found.word for each in drawn.repair.tests}),
        (mended, {each.id: each.mended.word for each in drawn.repair.tests}),
    ):
        assert outcomes_for_real(drawn, network, wanted) == wanted


def test_symptoms_of_another_network_are_found_out():
    """With the faults mended a real network shows something else than what is printed."""
    lab = kept_lab("faults-two")
    assert lab.repair is not None
    looks = to_observe(lab, tables=True, counters=True)
    mended = build(lab, with_edits(derive_key(lab), lab.repair.decoys)).network
    view = observe(lab, found_network(lab), looks)
    seen = seen_for_real(lab, mended, looks, observe(lab, mended, looks))
    assert {look for look in looks if view[look] != seen[look]}
