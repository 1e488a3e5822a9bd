"""Labs in the simulation and in a real network: what nobody of this project programmed says the same of every trial.

Run when asked for: `python -m pytest -m kernel -n 20` as root on Linux. TRAINER_NIGHTLY=1 tries all labs and damages, else
every second one; 500 more labs, else 6, half of them with wrong cells at random; 60 sentences about random papers, else 16;
and 20 counts instead of 6.
"""

import ast
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from comparing import Comparison, Simulation, compare, compare_with
from counting import counted
from damaged_answers import randomly_damaged
from damages import DAMAGES, NotHere, damaged
from drawn_labs import bakery
from filled_forms import filled
from kernel_labs import OPTIONS, SHAPES, drawn_lab, drawn_labs, exercise_labs, labs_with_option
from kernel_trials import guests_of, trials_of
from measuring import measure, measure_again, why_not_here
from told_papers import Told, all_told, random_paper

from trainer.lab.answers import read_answers
from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.form import Answers, CellRef
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, QUESTIONS
from trainer.lab.scenario import OptionServer, Scenario
from trainer.lab.trials import plugged_in
from trainer.marking.experiments import Laboratory
from trainer.marking.findings import CHANGED_NOTHING
from trainer.marking.marker import mark
from trainer.marking.plans import plans_of
from trainer.network.devices import Network

IS_NIGHTLY = bool(os.environ.get("TRAINER_NIGHTLY"))
COUNT = 500 if IS_NIGHTLY else 6
OPTION_LABS = 20 if IS_NIGHTLY else 2
REASON = why_not_here()
pytestmark = [pytest.mark.kernel, pytest.mark.skipif(bool(REASON), reason=REASON)]
BUILDERS = ("real_network", "dhcp_client", "run_lab", "measuring")
LABS = {**exercise_labs(), **drawn_labs()}
assert len(LABS) >= 40


def tried(names: Iterable[str]) -> list[str]:
    """All at night, else every second one: most of the time is spent waiting for clients that get no lease."""
    return list(names)[:: 1 if IS_NIGHTLY else 2]


def place_for(damage: str) -> tuple[str, Answers]:
    """A lab that has a place for the damage, another one for each damage, and its answers, which configure something else."""
    names = list(LABS)
    start = list(DAMAGES).index(damage)
    for number in range(len(names)):
        name = names[(start + number) % len(names)]
        try:
            answers = damaged(LABS[name], damage)
        except NotHere:
            continue
        if network_of(name, answers) != network_of(name, derive_key(LABS[name])):
            return name, answers
    pytest.fail(f"no lab has a place for {damage}")


def network_of(name: str, answers: Answers) -> Network:
    return build(LABS[name], answers).network


def agreed(record: Callable[[str, object], None], lab: Scenario, answers: Answers) -> Comparison:
    """The comparison, noted for the report; fails with every trial that differs."""
    found = compare(lab, answers)
    counted = ("leases", "trials", "exempt", "errors", "is_second")
    measured = {each: getattr(found, each) for each in counted}
    record("measured", json.dumps(measured))
    if found.differences:
        pytest.fail("\n".join((f"{len(found.differences)} trials differ", *found.differences[:20])), pytrace=False)
    return found


@pytest.mark.parametrize("name", tried(LABS))
def test_a_key_fares_in_a_real_network_as_in_the_simulation(name: str, record_property: Any):
    found = agreed(record_property, LABS[name], derive_key(LABS[name]))
    assert found.trials > 50
    assert not found.exempt


@pytest.mark.parametrize("damage", tried(DAMAGES))
def test_a_wrong_cell_does_in_a_real_network_what_it_does_in_the_simulation(damage: str, record_property: Any):
    """And what feedback says was seen of the wrong cells is seen there too."""
    name, answers = place_for(damage)
    found = agreed(record_property, LABS[name], answers)
    if not found.exempt:
        for told in stated(LABS[name], answers):
            if told.startswith("rogue offer a rogue server on link "):
                continue  # comparing.NOT_MEASURED
            assert found.failed[told], f"feedback says it fails, and it works: {told}"


_TOLD = re.compile(r"\d+ (lease|ping|rogue offer|forged packet)s? \(([^()]*(?:\([^()]*\)[^()]*)*)\)")


def stated(lab: Scenario, answers: Answers) -> list[str]:
    """What feedback on these answers names as going wrong now and right with a wrong cell put right, one trial each."""
    texts = {cell: QUESTIONS[cell.question].kind.show(value) for cell, value in answers.values.items()}
    for section in FORM:
        given = {row.key for row in section.set_already(lab)}
        texts = {
            cell: text
            for cell, text in texts.items()
            if cell.row not in given or not cell.question.startswith(section.id)
        }
    named = []
    for cell in mark(lab, filled(texts)).cells:
        seen = "" if cell.explanation is None else cell.explanation.seen
        healed, comes_back, _ = seen.partition(" in your network")  # behind it, what would stop in exchange
        if healed.startswith("With") and comes_back:
            named += named_in(healed)
    return list(dict.fromkeys(named))


def test_at_least_a_hundred_stated_consequences_are_confirmed():
    places = (place_for(damage) for damage in tried(DAMAGES))
    assert sum(len(stated(LABS[name], answers)) for name, answers in places) >= 100


SENTENCES = 60 if IS_NIGHTLY else 16
_OF_ALL_LABS = 60 if IS_NIGHTLY else 0
"""So many are about labs of every size; the others about small ones, in which there are fewer clients to wait for."""
_SMALL = [name for name, lab in LABS.items() if len(lab.switches) == 2]
_LAST = 20
"""So many papers are looked through for a sentence that a kernel can confirm."""


@pytest.mark.parametrize("number", range(SENTENCES))
def test_what_is_said_of_a_random_paper_is_seen_in_a_real_network(number: int):
    """Findings on papers with sheets missing: what is named fails or works there as it is said to."""
    rng = random.Random(number)
    for _ in range(_LAST):
        name = rng.choice(list(LABS) if number < _OF_ALL_LABS else _SMALL)
        told = list(all_told(LABS[name], random_paper(LABS[name], rng)))
        if told and is_confirmed(rng.choice(told)):
            return
    pytest.fail("no paper had a sentence that a kernel can confirm")


def is_confirmed(told: Told) -> bool:
    """False where the sentence names nothing that a kernel tries as the simulation does; fails where it is not true.

    That a key works in a real network is tried by itself.
    """
    seen = told.said.seen
    is_own = seen.startswith("With") or seen == CHANGED_NOTHING
    named, is_complete, _ = seen.partition(" in your network" if is_own else "; in yours")
    subjects = _confirmable(dict.fromkeys(named_in(named), True))
    if seen != CHANGED_NOTHING and not (subjects and is_complete and "would have" not in seen):
        return False
    before = compare(told.lab, told.own if is_own else told.alone)
    after = compare(told.lab, told.mended) if is_own and not before.exempt else before
    if before.exempt or after.exempt:
        return False
    if seen == CHANGED_NOTHING:
        assert _confirmable(before.failed) == _confirmable(after.failed), (told.cell.ref, seen)
    for subject in subjects:
        assert before.failed[subject], (told.cell.ref, seen, subject)
        assert not is_own or not after.failed[subject], (told.cell.ref, seen, subject)
    return True


def named_in(sentence: str) -> list[str]:
    """The trials that a sentence names, as a comparison calls them."""
    named = [
        f"{kind} {subject}"
        for kind, subjects in _TOLD.findall(sentence)
        for subject in subjects.split(", ")
        if subject != "..."
    ]
    return list(dict.fromkeys(named))


def _confirmable(failed: dict[str, bool]) -> dict[str, bool]:
    """Without what is tried at another address in a trainee's own plan, and what no kernel tries."""
    return {
        subject: has_failed
        for subject, has_failed in failed.items()
        if not re.search(r"\bhost \d+ of VLAN ", subject)
        and not subject.startswith("rogue offer a rogue server on link ")
    }


def test_at_least_sixty_classes_of_fault_are_tried():
    assert len(tried(DAMAGES)) >= 60


@pytest.mark.parametrize("seed", range(COUNT))
def test_any_lab_fares_in_a_real_network_as_in_the_simulation(seed: int, record_property: Any):
    rng = random.Random(seed)
    lab = drawn_lab(rng.choice(list(SHAPES)), rng)
    key = derive_key(lab)
    agreed(record_property, lab, key if seed % 2 else randomly_damaged(lab, key, rng))


@pytest.mark.parametrize("number", range(OPTION_LABS))
@pytest.mark.parametrize("option", OPTIONS)
def test_labs_with_options_fare_in_a_real_network_as_in_the_simulation(option: str, number: int, record_property: Any):
    lab = labs_with_option(option, number + 1)[number]
    key = derive_key(lab)
    agreed(record_property, lab, key)
    agreed(record_property, lab, randomly_damaged(lab, key, random.Random(number)))


COUNTED = 20 if IS_NIGHTLY else 6
_WITHOUT_EXEMPTION = 10
"""So many damaged papers are looked through for one of which no trial is exempt from being compared."""


@pytest.mark.parametrize("number", range(COUNTED))
def test_what_works_in_a_damaged_paper_is_counted_alike_in_a_real_network(number: int):
    """The line on the page, and the kernel's own count."""
    for seed in range(_WITHOUT_EXEMPTION):
        rng = random.Random(1000 + number + seed * COUNTED)
        lab = drawn_lab(rng.choice(["two", "chain of three"]), rng)
        answers = randomly_damaged(lab, derive_key(lab), rng, rng.randint(1, 8))
        plans = plans_of(lab, read_answers(filled(_texts(lab, answers))))
        laboratory = Laboratory(lab, plans.answers, plans.so_far)
        assert laboratory.works == mark(lab, filled(_texts(lab, answers))).works
        if (found := counted(lab, laboratory)) is not None:
            assert found == laboratory.works, f"seed {seed}: {found.line}, and the page says {laboratory.works.line}"
            return
    pytest.fail("no paper could be compared")


def _texts(lab: Scenario, answers: Answers) -> dict[CellRef, str]:
    """What stands in the form, without rows that are set already."""
    given = {(section.id, row.key) for section in FORM for row in section.set_already(lab)}
    return {
        cell: QUESTIONS[cell.question].kind.show(value)
        for cell, value in answers.values.items()
        if (cell.question.partition(".")[0], cell.row) not in given
    }


# --- That it can fail, and leaves nothing behind ----------------------------------------------------------------------


def first_switch(configuration: dict[str, Any]) -> dict[str, Any]:
    switch: dict[str, Any] = configuration["hopsheet-lab:network"]["switch"][0]
    return switch


def forget_trust(configuration: dict[str, Any]) -> None:
    first_switch(configuration)["snooping"]["trusted-port"] = []


def forget_snooping(configuration: dict[str, Any]) -> None:
    first_switch(configuration)["snooping"]["vlan-id"] = []


def forget_guard(configuration: dict[str, Any]) -> None:
    first_switch(configuration)["source-guard"]["port"] = []


def forget_routes(configuration: dict[str, Any]) -> None:
    first_switch(configuration)["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"] = []


def forget_relays(configuration: dict[str, Any]) -> None:
    first_switch(configuration)["relay-agent"] = []


def forget_a_pool(configuration: dict[str, Any]) -> None:
    configuration["hopsheet-lab:network"]["dhcp-server"]["pool"].pop()


def forget_a_dns_server(configuration: dict[str, Any]) -> None:
    configuration["hopsheet-lab:network"]["dhcp-server"]["pool"][0].pop("dns-server")


def change_a_router(configuration: dict[str, Any]) -> None:
    configuration["hopsheet-lab:network"]["dhcp-server"]["pool"][0]["router"] = "192.0.2.1"


TAMPERINGS = (
    forget_trust,
    forget_snooping,
    forget_guard,
    forget_routes,
    forget_relays,
    forget_a_pool,
    forget_a_dns_server,
    change_a_router,
)


@pytest.mark.parametrize("tamper", TAMPERINGS, ids=lambda each: each.__name__)
def test_a_real_network_that_is_set_up_otherwise_is_found_out(tamper: Callable[[dict[str, Any]], None]):
    lab = bakery()
    lab = replace(lab, rules=replace(lab.rules, dns_server=OptionServer.DHCP_SERVER))
    key = derive_key(lab)
    network, guests = build(lab, key).network, guests_of(lab, key)
    visited = network.with_visitors(plugged_in(guests))
    configuration = show_configuration(visited)
    tamper(configuration)
    trials = trials_of(lab, visited)
    assert compare_with(measure(configuration, trials), trials, Simulation(lab, network, guests)).differences


@pytest.mark.parametrize(
    ("damage", "error"),
    [("no_route_to_a_vlan_without_the_server", (3, 0)), ("next_hop_points_back", (11, 0))],
)
def test_an_error_that_no_sender_sees_and_one_of_another_kind_is_found_out(damage: str, error: tuple[int, int]):
    name, answers = place_for(damage)
    lab = LABS[name]
    network, guests = build(lab, answers).network, guests_of(lab, derive_key(lab))
    visited = network.with_visitors(plugged_in(guests))
    trials = trials_of(lab, visited)
    simulation = Simulation(lab, network, guests)
    measured = {}

    def is_heard(found: dict[str, Any]) -> bool:
        measured.update(found)
        return any(each is not None and tuple(each[:2]) == error for each in found["heard"])

    assert measure_again(show_configuration(visited), trials, is_heard, True)
    seen = [each is not None and tuple(each[:2]) == error for each in measured["heard"]]
    nothing = compare_with({**measured, "heard": [None] * len(trials), "told": []}, trials, simulation)
    others = [[14 - each[0], 0, each[2]] if each else None for each in measured["heard"]]
    otherwise = compare_with({**measured, "heard": others}, trials, simulation)
    assert len(nothing.differences) >= sum(seen)
    assert len(otherwise.differences) >= sum(seen)


@pytest.mark.parametrize("module", BUILDERS)
def test_what_builds_the_real_network_knows_nothing_of_the_simulation(module: str):
    tree = ast.parse(Path(__file__).with_name(f"{module}.py").read_text(encoding="utf-8"))
    imported = {name.split(".")[0] for name in _imports(tree)}
    assert imported <= {*sys.stdlib_module_names, *BUILDERS}


def _imports(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or "."


def test_a_lab_whose_measuring_is_killed_leaves_nothing_behind():
    lab = bakery()
    key = derive_key(lab)
    network = build(lab, key).network
    job = json.dumps([show_configuration(network), trials_of(lab, network)])
    measuring = "import json, sys; from measuring import measure; measure(*json.load(sys.stdin))"
    before = _links_and_namespaces()
    folder = Path(__file__).parent
    with subprocess.Popen([sys.executable, "-c", measuring], cwd=folder, stdin=subprocess.PIPE, text=True) as victim:
        assert victim.stdin is not None
        victim.stdin.write(job)
        victim.stdin.close()
        started = _until(lambda: [pid for pid, name in _descendants(victim.pid) if name == "dnsmasq"] and victim.pid)
        assert started, "the lab's server did not start"
        family = [pid for pid, _ in _descendants(victim.pid)]
        assert len(family) >= 3
        victim.send_signal(signal.SIGKILL)
    assert _until(lambda: not any(Path(f"/proc/{pid}").exists() for pid in family)), "processes are left"
    assert _links_and_namespaces() == before


def _links_and_namespaces() -> list[list[Path]]:
    return [sorted(folder.glob("*")) for folder in (Path("/sys/class/net"), Path("/run/netns"))]


def _until(holds: Callable[[], Any], seconds: float = 20) -> bool:
    give_up = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > give_up:
            return False
        time.sleep(0.02)
    return True


def _descendants(ancestor: int) -> list[tuple[int, str]]:
    """Process ids and names of all that a process started, and of what those started."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            head, _, tail = stat.read_text().rpartition(")")
        except OSError:
            continue  # it has ended meanwhile
        parents[int(stat.parent.name)] = (int(tail.split()[1]), head.partition("(")[2])
    found: list[tuple[int, str]] = []
    families = {ancestor}
    while new := [(pid, name) for pid, (parent, name) in parents.items() if parent in families and pid not in families]:
        found += new
        families |= {pid for pid, _ in new}
    return found
