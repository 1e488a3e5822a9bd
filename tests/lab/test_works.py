"""What works, in numbers and words, and what of it a pass needs."""

from collections.abc import Mapping
from decimal import Decimal

import pytest
from drawn_labs import changed, exercise_of
from hypothesis import given
from hypothesis import strategies as st

from trainer.lab.exercise_reading import read_exercise
from trainer.lab.sample import HARBOUR
from trainer.lab.works import Count, MustWork, ToPass, Works
from trainer.records import from_record, to_record


def works(leases: int | None = 4, pings: int | None = 60, attacks: int | None = 20) -> Works:
    def count(shown: int | None, of: int) -> Count | None:
        return None if shown is None else Count(shown=shown, of=of)

    return Works(leases=count(leases, 6), pings=count(pings, 72), attacks=count(attacks, 24))


RULE = ToPass(pass_mark=60, must_work=MustWork(leases=100, pings=80, attacks=90))


def test_the_line_names_every_sort_that_a_lab_has():
    assert works().line == "leases 4 of 6, pings 60 of 72, attacks stopped 20 of 24"
    assert works(leases=None, attacks=None).line == "pings 60 of 72"


def test_other_programs_read_pairs_and_null_for_what_a_lab_lacks():
    assert works(attacks=None).as_record() == {"leases": [4, 6], "pings": [60, 72], "attacks": None}


def test_a_record_holds_it():
    assert from_record(Works, to_record(works(leases=None))) == works(leases=None)


@pytest.mark.parametrize(
    ("seen", "marks", "sentence"),
    [
        (works(6, 72, 24), "73.4", ""),
        (works(6, 58, 22), "73.4", ""),
        (works(6, 72, 0), "60", "60 reached, but 0 of 24 attacks are stopped; 22 are needed."),
        (works(6, 57, 22), "100", "60 reached, but 57 of 72 pings are answered; 58 are needed."),
        (
            works(0, 0, 0),
            "73.4",
            "60 reached, but 0 of 6 leases are granted and renewed and 0 of 72 pings are answered and 0 of 24 attacks are "
            "stopped; 6, 58 and 22 are needed.",
        ),
        (works(6, 72, 21), "59.999", "60 not reached, and 21 of 24 attacks are stopped; 22 are needed."),
        (works(None, 72, None), "73.4", ""),
        (None, "73.4", "What works was not tried yet: grade again."),
    ],
)
def test_a_sentence_says_what_the_network_lacks_for_a_pass(seen: Works | None, marks: str, sentence: str):
    assert RULE.missing(seen, Decimal(marks), Decimal(100)) == sentence


@given(st.integers(1, 500), st.integers(0, 100))
def test_so_many_are_needed_that_one_less_would_be_below_the_share(of: int, per_cent: int):
    needed = Count(shown=0, of=of).needed(per_cent)
    assert needed * 100 >= of * per_cent > (needed - 1) * 100


# --- The setting ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("", None),
        ("leases 100, pings 80, attacks 90", MustWork(leases=100, pings=80, attacks=90)),
        ("Attacks 90 %; leases 100", MustWork(leases=100, attacks=90)),
        ("pings 0", MustWork(pings=0)),
    ],
)
def test_what_must_work_is_read_in_every_way_it_may_be_written(text: str, value: MustWork | None):
    assert exercise_of(changed(must_work=text)).must_work == value


@pytest.mark.parametrize(
    "text", ["leases", "leases 101", "80", "leases 80, leases 90", "routes 50", "leases 80 pings 90"]
)
def test_error_what_must_work_is_no_list_of_shares(text: str):
    (fault,) = read_exercise(changed(must_work=text))
    assert (fault.at.field, fault.wanted) == (
        "must_work",
        "leases, pings and attacks stand here, each once with a share from 0 to 100 per cent, or nothing",
    )


def networks(**values: str) -> tuple[Mapping[str, str], ...]:
    return tuple({**row, **values} for row in HARBOUR.tables["networks"])


def test_error_a_kind_that_a_lab_lacks_cannot_be_asked_to_work():
    tables = {
        "networks": networks(is_snooped="no", is_guarded="no", dhcp_stations="0", fixed_stations="1"),
        "sections": tuple(
            {**row, "asked": "yes" if row["section"] == "Ports" else "no", "share": "100" if row["section"] == "Ports" else "0"}
            for row in HARBOUR.tables["sections"]
        ),
    }  # fmt: skip
    faults = read_exercise(changed(tables=tables, must_work="leases 100, pings 80, attacks 90"))
    assert isinstance(faults, tuple)
    assert [(each.at.field, each.wanted, each.fix) for each in faults] == [
        (
            "must_work",
            "a lab of this exercise has no leases and no attacks to try",
            "Take leases and attacks out, or change sheet Networks.",
        )
    ]
    assert exercise_of(changed(tables=tables, must_work="pings 80")).must_work == MustWork(pings=80)
