"""What the Brief of a fault-finding lab says: what to do, what was not tested, how to write, what counts."""

from trainer.lab.questions import SECTIONS
from trainer.lab.repair.sheet import LAPTOP
from trainer.lab.scenario import Scenario

__all__ = ["not_tested", "repair_marks", "repair_task", "repair_writing"]


def repair_task(scenario: Scenario) -> str:
    """What to do, in a few sentences."""
    assert scenario.repair is not None
    many = scenario.repair.most_faults
    time = f" Time: {scenario.minutes} minutes." if scenario.minutes else ""
    date = f" {scenario.date}" if scenario.date else ""
    none = ", or none" if scenario.repair.may_have_none else ""
    faults = f"{_MANY[many]}{none}"
    if scenario.repair.hides_second:
        faults += ", of the second nothing is seen before the first is put right"
    each = "it" if many == 1 else "each of them"
    others = (
        ""
        if not scenario.repair.decoys
        else " Others differ from the plan too and do no harm: name them, and call them harmless."
    )
    outcome = ", and somebody complains of it" if scenario.repair.may_have_none else " and does not work as it should"
    found = (
        "What is set on the devices and what was seen is told when you ask for it."
        if scenario.repair.is_one_by_one
        else "The sheets Found show what is set on every device."
    )
    return (
        f"The network on sheet Given was planned by the rules below{outcome}. {faults}, and something on "
        f"sheet Symptoms comes from {each}.{others} {found} Say which line is wrong, what should stand there, which symptoms "
        f"come from it, and what proves the repair.{time}{date}"
    )


_MANY = {1: "One setting is wrong", 2: "Two settings are wrong", 3: "Three settings are wrong"}


def not_tested(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """How symptoms were collected, and what nobody tried."""
    assert scenario.repair is not None
    return (
        *(_ASKING if scenario.repair.is_one_by_one else ()),
        (
            "Pings",
            "Both ways, what each sender sees: answered; nothing; or an error and the switch that tells it: network "
            "unreachable where it has no route that it can use (one over a next hop that is no neighbour is none), time exceeded "
            "where a packet was in a routing loop.",
        ),
        ("Leases", "All of it may be right or wrong: address, prefix length, router, time."),
        *([("Tables", "Read when all stations had asked for their leases.")] if scenario.repair.has_tables else []),
        (
            "Attacks",
            "False DHCP servers at stations and on links, and packets from a station that bear another station's address.",
        ),
        *(
            [
                (
                    "Counters",
                    "Set to zero before the stations started. Only what comes of these leases and pings is counted.",
                )
            ]
            if scenario.repair.has_counters
            else [("Counters", "Nobody read them.")]
        ),
        (
            "Not tested",
            "Pings between other stations, pings to other addresses of a network, whether leases can be renewed, forged MACs.",
        ),
        *(_LAPTOPS if any(LAPTOP in each.what for each in scenario.repair.tests) else ()),
        *(_HARMLESS if scenario.repair.decoys else ()),
    )


_LAPTOPS = (
    (
        "Laptops",
        "A laptop of sheet Tests is at a spare port that is put into that VLAN, without source guard. It has that address, and "
        "mask and gateway of the plan.",
    ),
)
_HARMLESS = (
    (
        "Harmless",
        "With it or without it all goes the same that was tried, and all on sheet Tests. Some day it is put right too.",
    ),
)


_ASKING = (
    (
        "Asking",
        "Type in the terminal: look A routes for a table of a device, try S4 or try lease Looms 1 for what was seen, retry S4 "
        "for what is seen once the lines that you call causes are put right (save first). look and try alone list what there is.",
    ),
)


def repair_writing(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """How the answers are written."""
    assert scenario.repair is not None
    return (*_WRITING[:2], *(_NO_FAULT_WRITING if scenario.repair.may_have_none else ()), *_WRITING[2:])


_NO_FAULT_WRITING = (
    (
        "No fault",
        "Where nothing is wrong: none under Line of one row, the other cells of that row empty, and none behind every symptom. "
        "What a user said has passed then.",
    ),
)
_WRITING: tuple[tuple[str, str], ...] = (
    (
        "Symptoms",
        "The number of the row on sheet Faults that it comes from: what is wrong there ends once that fault is put right, alone "
        "or after the others. Several: 1, 2. None where all is as it should be; an empty cell earns nothing.",
    ),
    (
        "Line, Column",
        "As on the sheets Found: A7, and the heading there. Where a row is missing: the last line of its table, which every "
        "such table has for that, and the word row.",
    ),
    (
        "Should be",
        "The right value; a list whole, in any order. Of a missing row its values in the order of the headings, with blanks "
        "between: 172.20.4.0 /26 172.20.9.2.",
    ),
    ("Test", "T1 to T8: one that comes out otherwise as long as this fault is left. Of a harmless line none."),
    (
        "Tests",
        "A ping: answered, or no answer, also where one of the two has no address. A forged packet: arrives, or stopped. After "
        "mending: with all faults put right and all leases fetched anew.",
    ),
)


def repair_marks(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """What counts."""
    assert scenario.repair is not None
    shares = ", ".join(f"{SECTIONS[share.section].title} {share.share}" for share in scenario.sections)
    return (
        ("Shares", f"Of the total: {shares}. No sheet goes below zero."),
        (
            "A fault",
            "The line 3 (another line of the right table 2, of the right device 1); column, value, the word cause, and test 1 "
            "each.",
        ),
        *(
            [("A harmless line", "Named and called harmless 1; its other cells are not marked.")]
            if scenario.repair.decoys
            else []
        ),
        (
            "Other repairs",
            "Every repair is right with which the network does all it should and keeps the rules, in whatever lines it is.",
        ),
        (
            "Too much",
            "A line that is called a cause and is none cancels a right one; one that is called harmless and is as planned, 1. A "
            "fault behind what is as it should be cancels a right one, and so does a test that is said to change and does not.",
        ),
        (
            "What follows",
            "After a wrong diagnosis, what tests do after the repair that you name counts, and a symptom half where the line "
            "is of another device.",
        ),
    )
