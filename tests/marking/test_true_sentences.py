"""Sentences that are said of random papers with sheets missing, held against networks that are built and tried anew."""

import random
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from told_papers import Told, all_told, random_paper

from trainer.lab.build import build
from trainer.lab.form import Answers, SoFar
from trainer.lab.questions import subnets
from trainer.lab.scenario import Scenario
from trainer.lab.trials import Site, TrialKind, TrialName, Tried, try_network, visitors
from trainer.marking.findings import CHANGED_NOTHING
from trainer.marking.mistakes.catalogue import MISTAKES
from trainer.marking.mistakes.mistake import Claim
from trainer.network.devices import Network
from trainer.network.topology import Lease

LABS = (
    bakery(),
    draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}))), 1)[0],
    draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "A"}), order="free")), 1)[0],
)
WORDS = {
    TrialKind.LEASE: "lease",
    TrialKind.PING: "ping",
    TrialKind.REACH: "ping",
    TrialKind.ROGUE_SERVER: "rogue offer",
    TrialKind.ROGUE_ON_LINK: "rogue offer",
    TrialKind.FORGED_ADDRESS: "forged packet",
    TrialKind.FORGED_MAC: "forged packet",
}
COUNTED = re.compile(r"(\d+) (lease|ping|rogue offer|forged packet)s? \(")
LETS_THROUGH = {"rogue offer", "forged packet"}
CLAIMS = {mistake.id: mistake for mistake in MISTAKES if mistake.claim is not Claim.NONE}
Results = dict[TrialName, Tried]


def tried(lab: Scenario, answers: Answers) -> Results:
    """All trials on the network that the answers make. Who would stand in the way of a gateway or a client does not visit."""
    plan, network = SoFar(lab, answers.values, SoFar(lab)), build(lab, answers).network
    sites = {
        vlan.id: Site(subnets.network_of(plan, vlan.id), plan.value(subnets.GATEWAY, subnets.row_of(vlan.id)))
        for vlan in lab.vlans
    }
    guests = [each for each in visitors(lab, sites) if int(each[0].fixed.address) not in taken(network, sites)]  # type: ignore[union-attr]
    _, results = try_network(lab, network, guests, with_controls=False)
    return {each.name: each for each in results}


def taken(network: Network, sites: dict[int, Site]) -> set[int]:
    """Gateways, and what the pools hand out first."""
    clients = sum(station.uses_dhcp for station in network.stations)
    lent = {
        int(pool.first) + step for pool in (network.server.pools if network.server else ()) for step in range(clients)
    }
    return lent | {int(site.gateway) for site in sites.values()}


def told_counts(text: str) -> Counter[str]:
    return Counter({word: int(number) for number, word in COUNTED.findall(text)})


def counts(results: Iterable[Tried]) -> Counter[str]:
    return Counter(WORDS[each.kind] for each in results)


def worse(results: Results, other: Results) -> Counter[str]:
    """What goes wrong here and right there."""
    return counts(each for name, each in results.items() if each.fails and name in other and other[name].works)


def with_other_leases(results: Results, other: Results) -> Counter[str]:
    return counts(
        each
        for name, each in results.items()
        if isinstance(each.outcome, Lease) and name in other and isinstance(other[name].outcome, Lease)
        if any(getattr(each.outcome, part) != getattr(other[name].outcome, part) for part in PARTS)
    )


PARTS = ("address", "prefix_length", "router", "lease_seconds", "relay_address")


def untrue(told: Told) -> str:
    """Why what is said to have been tried is not true; "" where it is."""
    seen = told.said.seen
    own, mended = tried(told.lab, told.own), tried(told.lab, told.mended)
    right, alone = tried(told.lab, told.right), tried(told.lab, told.alone)
    heals, breaks = worse(own, mended), worse(mended, own)
    alters, would_alter = with_other_leases(own, mended), with_other_leases(alone, right)
    stops = counts(each for each in alone.values() if each.fails)
    if seen == CHANGED_NOTHING:
        wanted: Counter[str] = Counter()
        return (
            "" if not (heals or breaks or alters or stops or would_alter) else f"{heals} {breaks} {stops} {would_alter}"
        )
    if seen.startswith("In an otherwise right network"):
        said, _, _ = seen.partition("; in yours ")
        said, _, _ = said.partition(". In yours ")
        wanted = would_alter if "would have" in said else stops
        words = [("it stops", stops - only_attacks(stops)), ("it lets through", only_attacks(stops))]
        if "would have" not in said and any((word in said) != bool(some) for word, some in words):
            return f"worded otherwise than {stops}"
        return "" if told_counts(said) == wanted and not heals else f"{wanted}, {heals}"
    if seen.startswith("In your network it works, because other values match it"):
        return "" if told_counts(seen) == breaks and not heals else f"{breaks}, {heals}"
    if "would have" in seen:
        return "" if told_counts(seen) == alters and not heals and not breaks else f"{alters} {heals} {breaks}"
    healed, _, stopped = seen.partition(" in your network")
    if told_counts(healed) != heals or told_counts(stopped) != breaks:
        return f"{heals}, {breaks}"
    if ("are stopped" in healed or "is stopped" in healed) != bool(only_attacks(heals)):
        return f"worded otherwise than {heals}"
    return "" if (" through" in stopped) == bool(only_attacks(breaks)) else f"worded otherwise than {breaks}"


def only_attacks(counted: Counter[str]) -> Counter[str]:
    return Counter({word: number for word, number in counted.items() if word in LETS_THROUGH})


def shows(told: Told, claim: Claim) -> bool:
    """Whether a right network with this alone wrong shows what the consequence says."""
    right, alone = tried(told.lab, told.right), tried(told.lab, told.alone)
    failing = {WORDS[each.kind] for each in alone.values() if each.fails}
    return {
        Claim.NO_LEASE: "lease" in failing,
        Claim.NO_ANSWER: "ping" in failing,
        Claim.ATTACK_PASSES: bool(failing & LETS_THROUGH),
        Claim.OTHER_LEASE: bool(with_other_leases(alone, right)),
        Claim.NO_HARM: not failing and not with_other_leases(alone, right),
    }[claim]


def sentences(number: int) -> list[Told]:
    """Of a random paper a few, of different wordings first."""
    rng = random.Random(number)
    lab = LABS[number % len(LABS)]
    found = list(all_told(lab, random_paper(lab, rng)))
    rng.shuffle(found)
    by_wording = {re.sub(r"\d+|\(.*?\)", "", each.said.seen): each for each in found}
    return list(by_wording.values())[:5]


@pytest.mark.parametrize("sentences_checked", [60, pytest.param(300, marks=pytest.mark.many)])
@pytest.mark.parametrize("part", range(4))
def test_what_is_said_of_a_random_paper_is_true_of_a_fresh_network(part: int, sentences_checked: int) -> None:
    """F10: sentences that say what was tried, and consequences that claim something."""
    checked, number = Counter[str](), part
    while checked.total() < sentences_checked // 4:
        for told in sentences(number):
            why = untrue(told)
            assert not why, (number, told.cell.ref, told.cell.flaw, told.cell.text, told.said.seen, why)
            checked["tried"] += 1
            mistake = CLAIMS.get(told.said.mistake)
            if mistake is not None and told.said.consequence.removeprefix("By itself: ") == mistake.consequence:
                claimed = (number, told.cell.ref, told.cell.text, told.said.consequence)
                assert shows(told, mistake.claim), claimed
                checked["consequence"] += 1
        number += 4
    assert min(checked["tried"], checked["consequence"]) > 2


def test_the_check_finds_sentences_that_are_not_true() -> None:
    """That nothing changed, said of cells that changed something."""
    found = [told for number in range(6) for told in sentences(number) if told.said.seen != CHANGED_NOTHING]
    assert found
    for told in found:
        assert untrue(replace(told, said=replace(told.said, seen=CHANGED_NOTHING)))
