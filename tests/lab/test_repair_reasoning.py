"""Check values for what is concluded from symptoms, each with its source."""

import math
import random
from functools import cache
from itertools import combinations, product

import pytest
from repair_labs import mill

from trainer.lab.repair.cases import Workshop
from trainer.lab.repair.reasoning import covers, entropy, information_gain, shortest_way
from trainer.lab.repair.sheet import RepairRules

WEATHER = [
    ("sunny", "hot", "high", "weak", "no"),
    ("sunny", "hot", "high", "strong", "no"),
    ("overcast", "hot", "high", "weak", "yes"),
    ("rain", "mild", "high", "weak", "yes"),
    ("rain", "cool", "normal", "weak", "yes"),
    ("rain", "cool", "normal", "strong", "no"),
    ("overcast", "cool", "normal", "strong", "yes"),
    ("sunny", "mild", "high", "weak", "no"),
    ("sunny", "cool", "normal", "weak", "yes"),
    ("rain", "mild", "normal", "weak", "yes"),
    ("sunny", "mild", "normal", "strong", "yes"),
    ("overcast", "mild", "high", "strong", "yes"),
    ("overcast", "hot", "normal", "weak", "yes"),
    ("rain", "mild", "high", "strong", "no"),
]
"""The 14 rows of Quinlan, Induction of decision trees, Machine Learning 1 (1986)."""


@pytest.mark.parametrize(("column", "gain"), [(0, 0.2467), (1, 0.0292), (2, 0.1518), (3, 0.0481)])
def test_information_gain_of_the_weather_table(column: int, gain: float):
    found = information_gain(WEATHER, lambda row: row[column], lambda row: row[4])
    assert found == pytest.approx(gain, abs=0.00006)


@pytest.mark.parametrize(("weighed", "bits"), [(4, math.log2(3)), (5, 1.483), (6, 1.0)])
def test_first_weighing_of_twelve_balls(weighed: int, bits: float):
    """MacKay, Information Theory, Inference, and Learning Algorithms (2003), exercise 4.1: one of twelve is odd."""
    cases = list(product(range(12), ("heavy", "light")))

    def shows(case: tuple[int, str]) -> str:
        ball, weight = case
        if ball >= 2 * weighed:
            return "level"
        return "left" if (ball < weighed) == (weight == "heavy") else "right"

    assert information_gain(cases, shows, lambda case: case) == pytest.approx(bits, abs=0.0005)


@pytest.mark.parametrize(("causes", "tests"), [(2, 1), (8, 3), (16, 4)])
def test_half_split_takes_log2_of_the_causes(causes: int, tests: int):
    """Equally likely causes, and looks that tell one bit each: as many as bits."""
    looks = list(range(8))
    way = shortest_way(range(causes), looks, lambda case, look: case >> look & 1, lambda look: 5 >> look & 1)
    assert len(way) == tests
    assert [len(left) for _, left in way] == [causes >> step for step in range(1, tests + 1)]


def test_a_look_that_tells_nothing_more_is_left_out():
    assert shortest_way([1, 2], ["a", "b"], lambda case, look: case if look == "b" else 0, lambda _: 1) == [("b", [1])]
    assert entropy([7]) == 0


# --- Smallest explanations --------------------------------------------------------------------------------------------


def test_smallest_set_cover_of_twelve_points():
    """Introduction to Algorithms, 4th ed., chapter 35: three of the sets cover all points, no two do; the greedy S1, S4, S5,
    S6 is a cover as well.
    """
    parts = {
        "S1": range(1, 7),
        "S2": (5, 6, 8, 9),
        "S3": (1, 4, 7, 10),
        "S4": (2, 5, 7, 8, 11),
        "S5": (3, 6, 9, 12),
        "S6": (10, 11),
    }
    sets, points = {name: frozenset(part) for name, part in parts.items()}, frozenset(range(1, 13))
    assert covers(sets, points, 2) == []
    assert covers(sets, points, 3) == [("S3", "S4", "S5")]
    assert ("S1", "S4", "S5", "S6") in covers(sets, points, 4)


def test_minimal_diagnoses_from_conflicts():
    """De Kleer and Williams, Diagnosing multiple faults, Artificial Intelligence 32 (1987): two adders and three multipliers, two
    conflicts. A diagnosis has a component of each.
    """
    conflicts = ({"A1", "M1", "M2"}, {"A1", "A2", "M1", "M3"})
    parts = {
        name: frozenset(place for place, conflict in enumerate(conflicts) if name in conflict)
        for name in ("A1", "A2", "M1", "M2", "M3")
    }
    found: list[set[str]] = []
    for size in (1, 2, 3):
        every = map(set, covers(parts, frozenset((0, 1)), size))
        found += [each for each in every if not any(smaller <= each for smaller in found)]
    assert found == [{"A1"}, {"M1"}, {"A2", "M2"}, {"M2", "M3"}]


@pytest.mark.parametrize("size", [1, 2, 3])
def test_covers_are_those_that_a_plain_search_finds(size: int):
    rng = random.Random(size)
    for _ in range(50):
        whole = frozenset(range(rng.randint(1, 5)))
        parts = {name: frozenset(rng.sample(range(6), rng.randint(0, 4))) for name in range(7)}
        plain = [
            names
            for names in combinations(parts, size)
            if frozenset().union(*(parts[name] for name in names)) == whole
            and all(parts[name] <= whole for name in names)
        ]
        assert covers(parts, whole, size) == plain


# --- How good the way is ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("complaint", "of_best"),
    [
        ("Offices 1 asks for a lease", 1.0),
        ("DHCP server pings Pumps; and Pumps pings DHCP server", 1.06),
    ],
)
def test_the_way_by_information_gain_is_hardly_longer_than_the_best_one(complaint: str, of_best: float):
    """On the average of all that may be behind a complaint, against the best order of looks there is, found by trying all."""
    workshop = Workshop(mill(), RepairRules(faults=1, decoys=0, has_counters=True, has_tables=True))
    case = next(
        each
        for slip in workshop.slips
        if (each := workshop.case((slip,))) is not None and each.complaint.tried == complaint
    )
    shown = [tuple(case.views[each][look] for look in workshop.looks) for each in case.after_complaint]
    rows = [frozenset(slip.line for slip in each) for each in case.after_complaint]

    def is_found(left: tuple[int, ...]) -> bool:
        return len({rows[each] for each in left}) == 1 or len({shown[each] for each in left}) == 1

    @cache
    def fewest(left: tuple[int, ...]) -> int:
        """Looks of all that are left, summed up, in the best order."""
        if is_found(left):
            return 0
        parted = (parts for look in range(len(workshop.looks)) if len(parts := parts_of(left, look)) > 1)
        return len(left) + min(sum(map(fewest, parts)) for parts in parted)

    def parts_of(left: tuple[int, ...], look: int) -> list[tuple[int, ...]]:
        parts: dict[str, list[int]] = {}
        for each in left:
            parts.setdefault(shown[each][look], []).append(each)
        return [tuple(part) for part in parts.values()]

    def taken(one: int) -> int:
        """Looks on the way by information gain until the row is found, if that one is behind it."""
        every = list(range(len(rows)))
        way = shortest_way(
            every, range(len(workshop.looks)), lambda each, look: shown[each][look], shown[one].__getitem__
        )
        left = [every, *(still for _, still in way)]
        return next(number for number, still in enumerate(left) if is_found(tuple(still)))

    total = sum(map(taken, range(len(rows))))
    best = fewest(tuple(range(len(rows))))
    assert best <= total <= best * of_best
