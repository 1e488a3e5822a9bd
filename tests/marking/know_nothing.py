"""Papers of somebody who knows nothing, and labs of every ready-made exercise to mark them in: plans, and faults to find.

tests/bench/know_nothing_table.py prints what they earn; test_know_nothing.py holds the limits.
"""

import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import Any

from drawn_labs import draw
from filled_forms import filled
from repair_labs import KEPT, LEVELS, drawn, kept_lab
from repair_papers import accusing, form, mean_of, places_of

from trainer.commands.exercises import ready_made
from trainer.lab import kinds
from trainer.lab.answers import read_answers
from trainer.lab.form import CellRef, Question, SoFar
from trainer.lab.key import derive_key
from trainer.lab.kinds import ADDRESS
from trainer.lab.questions import QUESTIONS, SECTIONS, bindings, protection, subnets
from trainer.lab.scenario import Scenario, Trainee
from trainer.marking.effort import Effort, effort_of
from trainer.marking.marker import mark, mark_cells
from trainer.marking.marks import Marked
from trainer.marking.plans import plans_of
from trainer.sheets.exercise_book import read_exercise_book
from trainer.sheets.placement import shown_answers

Texts = dict[CellRef, str]
LABS = 2
"""Of each exercise so many labs are tried; of one that asks for faults, which takes long to draw, one."""
EXERCISES = {each.file.stem: each.file for each in ready_made()}
PLANS = tuple(name for name in EXERCISES if name not in LEVELS)
"""The exercises that ask for a plan."""


def blank(_lab: Scenario) -> Texts:
    return {}


def one_value_a_kind(lab: Scenario) -> Texts:
    """In every printed cell the text that is right most often in cells of its kind; as addresses the first one of the block,
    since none of the plan is known.
    """
    counts: dict[str, Counter[str]] = {}
    for cell, text in right_texts(lab).items():
        counts.setdefault(QUESTIONS[cell.question].kind.name, Counter())[text] += 1
    texts = {kind: counted.most_common(1)[0][0] for kind, counted in counts.items()}
    texts[ADDRESS.name] = str(lab.block.network_address)
    return {cell: texts[QUESTIONS[cell.question].kind.name] for cell in _printed(lab)}


def copies_only(lab: Scenario) -> Texts:
    """What sheet Given and the house rules print as it is to be written, the lists that are read off its tables too, and the
    block's own address for the network that lies at its start.
    """
    so_far, right = SoFar(lab), right_texts(lab)
    lists = (protection.SNOOPED.id, protection.GUARDED.id)
    start = {str(lab.block.network_address)}
    copied = {
        cell
        for cell in right
        if cell.question in lists
        or (cell.question == subnets.NETWORK_ADDRESS.id and right[cell] in start)
        or _is_copied(lab, so_far, cell)
    }
    return {cell: right[cell] for cell in right if cell in copied}


def at_random(lab: Scenario) -> Texts:
    """In every printed cell a value of its kind at random: addresses of the block, lengths, VLANs, ports and MACs of the lab."""
    rng = random.Random(lab.lab_number)
    return {cell: _any(lab, QUESTIONS[cell.question], rng) for cell in _printed(lab)}


def _any(lab: Scenario, question: Question[Any, Any], rng: random.Random) -> str:
    vlans, ports = [str(vlan.number) for vlan in lab.vlans], [str(number) for number in range(1, 25)]
    match question.kind.name:
        case kinds.ADDRESS.name:
            return str(lab.block.network_address + rng.randrange(lab.block.num_addresses))
        case kinds.PREFIX_LENGTH.name | kinds.MASK.name | kinds.DOTTED_MASK.name | kinds.ROUTE_MASK.name:
            return question.kind.show(rng.randint(lab.block.prefixlen + 1, 31))
        case kinds.VLAN.name:
            return rng.choice(vlans)
        case kinds.PORT_USE.name:
            return rng.choice([*vlans, "routed"])
        case kinds.SWITCH.name:
            return rng.choice(lab.switches).name
        case kinds.MAC.name:
            return rng.choice(lab.stations).mac
        case kinds.PORT.name:
            return str(rng.choice(lab.stations).at)
        case kinds.BINDING_TYPE.name:
            return rng.choice(["static", "dynamic"])
        case kinds.LEASE.name:
            return f"{rng.randint(1, 24)} h"
        case kinds.PORT_SET.name:
            return ", ".join(rng.sample(ports, 3))
        case kinds.VLAN_SET.name:
            return ", ".join(rng.sample(vlans, 2))
    raise AssertionError(f"no random value of kind {question.kind.name}")


def everything_listed(lab: Scenario) -> Texts:
    """Beside what is copied: every VLAN relayed, every station bound, every port and VLAN in every list, every switch routed."""
    texts = copies_only(lab)
    for section in lab.asked:
        of = SECTIONS[section]
        if section == protection.PROTECTION.id:
            for row in of.rows(lab):
                texts[CellRef(protection.SNOOPED.id, row.key)] = ", ".join(str(vlan.number) for vlan in lab.vlans)
                ports = ", ".join(lab.port_names(lab.switches[0].name)) + ", " + ", ".join(map(str, range(1, 25)))
                texts[CellRef(protection.TRUSTED.id, row.key)] = texts[CellRef(protection.GUARDED.id, row.key)] = ports
        elif of.open is not None:
            texts |= {
                CellRef(question, of.open.named(number)): text
                for number, row in enumerate(_LISTED[section](lab), 1)
                for question, text in row.items()
            }
    return texts


def _every_station(lab: Scenario) -> Iterator[dict[str, str]]:
    for station in lab.stations:
        dynamic = station.fixed_number is None
        yield {
            bindings.BINDING_PORT.id: str(station.at),
            bindings.BINDING_VLAN.id: str(station.vlan),
            bindings.BINDING_MAC.id: station.mac,
            bindings.BINDING_TYPE_OF.id: "dynamic" if dynamic else "static",
            bindings.BINDING_LEASE.id: f"{lab.lease_hours} h" if dynamic else kinds.LEASE.show(kinds.INFINITE),
        }


def _every_vlan(lab: Scenario) -> Iterator[dict[str, str]]:
    for vlan in lab.vlans:
        yield {"relays.vlan": str(vlan.number), "relays.switch": vlan.switch}


def _every_switch(lab: Scenario) -> Iterator[dict[str, str]]:
    for switch in lab.switches:
        for _ in lab.vlans:
            yield {"routes.switch": switch.name}


_LISTED: Mapping[str, Callable[[Scenario], Iterator[dict[str, str]]]] = {
    "bindings": _every_station,
    "relays": _every_vlan,
    "routes": _every_switch,
}
PAPERS: Mapping[str, Callable[[Scenario], Texts]] = {
    "all blank": blank,
    "one value a kind": one_value_a_kind,
    "copies only": copies_only,
    "random": at_random,
    "everything listed": everything_listed,
}


@cache
def labs(exercise: str) -> tuple[Scenario, ...]:
    """Labs of a ready-made exercise."""
    if exercise in LEVELS:
        return (kept_lab(exercise),) if exercise in KEPT else tuple(drawn(LEVELS.index(exercise) + 1, 1))
    trainees = tuple(Trainee(id=f"n{number}") for number in range(LABS))
    read = read_exercise_book(EXERCISES[exercise].read_bytes())
    return draw(replace(read, trainees=trainees), LABS)


def marked(lab: Scenario, paper: str) -> Marked:
    """Of a plan only what it earns: nothing is tried on its network."""
    form = filled(PAPERS[paper](lab))
    if lab.repair is not None:
        return mark(lab, form)
    cells, sections = mark_cells(plans_of(lab, read_answers(form)))
    return Marked(cells=tuple(each.mark for each in cells), sections=sections)


def most(exercise: str, paper: str) -> Decimal:
    """Per cent that it earns in that of the exercise's labs where it earns most; with faults to find, on the average."""
    if exercise in LEVELS:
        return max(_of_faults(lab, paper) for lab in labs(exercise))
    return max(marked(lab, paper).percent for lab in labs(exercise))


def _of_faults(lab: Scenario, paper: str) -> Decimal:
    """Where faults are to be found nothing can be copied, and one value a kind is one line accused throughout, whichever."""
    assert lab.repair is not None
    if PAPERS[paper] in (blank, copies_only):
        return marked(lab, "all blank").percent
    if PAPERS[paper] is one_value_a_kind:
        each = [
            float(mark(lab, form(accusing(lab, [place] * lab.repair.printed_faults))).marks) for place in places_of(lab)
        ]
        mean = sum(each) / len(each)
    else:
        mean = mean_of(lab, "random" if PAPERS[paper] is at_random else "every line accused")
    return Decimal(mean).quantize(Decimal("0.1"))


def right_texts(lab: Scenario) -> Texts:
    """The right texts of what is asked, open rows in the first printed ones."""
    key = derive_key(lab)
    return {cell: text for section in lab.asked for cell, text in shown_answers(SECTIONS[section], lab, key).items()}


def _printed(lab: Scenario) -> Iterator[CellRef]:
    for section in lab.asked:
        for row in SECTIONS[section].printed_rows(lab):
            for question in SECTIONS[section].questions_in(lab):
                yield CellRef(question.id, row.key)


def _is_copied(lab: Scenario, so_far: SoFar, cell: CellRef) -> bool:
    section = SECTIONS[cell.question.partition(".")[0]]
    row = cell.row
    if section.open is not None:
        row = section.rows(lab)[int(cell.row.rsplit(" ", 1)[1]) - 1].key
    return effort_of(lab, so_far, QUESTIONS[cell.question], row) is Effort.COPIED
