"""What a wrong cell does, tried on the network: with all the trainee's answers, with this cell put right, and with this
cell alone wrong in a right network.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address
from itertools import islice
from typing import Any

from trainer.lab.build import Built, build
from trainer.lab.form import Answers, CellRef, RowKey, Section, SoFar
from trainer.lab.key import completed, derive_key
from trainer.lab.questions import subnets
from trainer.lab.scenario import Scenario
from trainer.lab.trials import Site, TrialKind, TrialName, Tried, Visitor, try_network, visitors
from trainer.lab.vlan_id import VlanId
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.working import works_of
from trainer.network.devices import Network
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import render
from trainer.network.trials import traced

__all__ = ["Experiment", "Laboratory", "Masking", "size_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Masking:
    """What else still stops a trial once the cell that was tried is right."""

    drop: Dropped
    section: Section[Any] | None
    """Where the setting that stops it is made, or would have to be; None where that is as it should be."""
    row: RowKey | None
    """Its row; None where no row that the trainee knows is to be named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Experiment:
    """What was seen when one cell, or several of one row, were tried."""

    stops: tuple[Tried, ...]
    """What goes wrong in a right network when this alone is wrong in it, as it went there."""
    heals: tuple[Tried, ...]
    """What goes wrong in the trainee's own network and right once this is put right, as it went before."""
    breaks: tuple[Tried, ...]
    """What goes wrong in the trainee's own network only when this is put right, because other values rest on it."""
    altered: tuple[Tried, ...]
    """Leases of the trainee's own network that are granted with this right or wrong, but not the same."""
    altered_in: tuple[str, ...]
    """In what they differ, in the trade's words."""
    would_alter: tuple[Tried, ...]
    """Leases of a right network that are granted with this alone wrong in it, too, but not the same."""
    would_alter_in: tuple[str, ...]
    stays: bool
    """Whether something of what it stops goes wrong in the trainee's own network once it is right, too."""
    masked_by: Masking | None
    """What it stops, and what in the trainee's own network still stops that once this is right."""


Results = Mapping[TrialName, Tried]

_MOST_RETRACED = 3
"""So many trials are made once more to show the steps of one."""


def size_of(scenario: Scenario) -> int:
    """About how many trials one experiment makes, on two networks: pings between stations and to needed addresses."""
    stations = len(scenario.stations)
    return 2 * (stations * (stations - 1) + 2 * len(scenario.vlans) * (len(scenario.switches) + 1))


class Laboratory:
    """A trainee's network, and a right one, to try changes on."""

    def __init__(self, scenario: Scenario, answers: Answers, so_far: SoFar) -> None:
        """answers: what the trainee wrote; so_far: the plan that it makes."""
        self._scenario = scenario
        self._answers = answers
        self._key = derive_key(scenario)
        self._key_so_far = SoFar(scenario, self._key.values)
        self._own = completed(scenario, answers, so_far, scenario.asked)
        self.network = network = build(scenario, self._own).network
        """The trainee's own."""
        self.guests = guests = self._guests(network, self._own)
        """Who visits it for trials."""
        self._running, tried = try_network(scenario, network, guests, with_controls=True)
        self._own_results: Results = {each.name: each for each in tried}
        self._known: dict[tuple[Network, tuple[Visitor, ...]], tuple[Running, Results]] = {
            (network, guests): (self._running, self._own_results)
        }
        self.works = works_of(
            scenario,
            self._running,
            tried,
            guests=[each for each in guests if _has_interface(network, each)],
            guests_of_key=visitors(scenario, self._sites(self._key)),
        )
        """What of the trainee's own network works."""

    def experiment(self, cells: Sequence[WrongCell]) -> Experiment:
        """The cells are put right, or made wrong, together."""
        right, wrong = _put_right(self._own, cells), _put_wrong(self._key, cells)
        built = build(self._scenario, right)
        _, healed = self._tried(built, right)
        _, alone = self._tried(build(self._scenario, wrong), wrong)
        _, all_right = self._tried(build(self._scenario, self._key), self._key)
        pairs = [(own, healed[name]) for name, own in self._own_results.items() if name in healed]
        stops = tuple(each for each in alone.values() if each.fails)
        failing = {own.name: right for own, right in pairs if own.fails and right.fails}
        still = [failing[each.name] for each in stops if each.name in failing]
        altered, altered_in = _altered(self._own_results, healed)
        would_alter, would_alter_in = _altered(alone, all_right)
        return Experiment(
            stops=stops,
            altered=altered,
            altered_in=altered_in,
            would_alter=would_alter,
            would_alter_in=would_alter_in,
            heals=tuple(own for own, right in pairs if own.fails and right.works),
            breaks=tuple(right for own, right in pairs if own.works and right.fails),
            stays=bool(still),
            masked_by=next((self._mask(built, drop) for each in still if (drop := _why(healed, each))), None),
        )

    def _mask(self, built: Built, drop: Dropped) -> Masking:
        section, cells = built.section(drop.because), built.cells(drop.because)
        is_known = bool(cells) and (section.open is None or cells[0].row in self._answers.rows.get(section.id, ()))
        is_right = section.open is None and all(
            self._own.values.get(each) == self._key.values.get(each) for each in cells
        )
        if cells and is_right:  # the packet should not have come there
            return Masking(drop=drop, section=None, row=None)
        return Masking(drop=drop, section=section, row=cells[0].row if is_known else None)

    def traced(self, experiment: Experiment) -> tuple[Tried, tuple[str, ...]] | None:
        """One trial that goes wrong because of it in the trainee's own network, and a line for each of its steps.

        None where none of the first goes wrong again when it is made once more. A ping of a station without an address has
        no steps to show: its lease has.
        """
        failed = (each for each in experiment.heals if not _has_no_address(each))
        for each in islice(failed, _MOST_RETRACED):
            again = traced(each.trial.run, self._running)
            if again.result.fails:
                return each, render(again.steps)
        return None

    def _tried(self, built: Built, answers: Answers) -> tuple[Running, Results]:
        network, guests = built.network, self._guests(built.network, answers)
        made = network, guests
        known = self._known.get(made)
        if known is None:
            running, tried = try_network(self._scenario, network, guests, with_controls=False)
            known = self._known[made] = running, {each.name: each for each in tried}
        return known

    def _sites(self, answers: Answers) -> dict[VlanId, Site]:
        plan = SoFar(self._scenario, answers.values, self._key_so_far)
        return {vlan.id: _site(plan, vlan.id) for vlan in self._scenario.vlans}

    def _guests(self, network: Network, answers: Answers) -> tuple[Visitor, ...]:
        """Who visits a network that answers make: nobody whose address is a gateway's, or one of the first that a pool hands
        out. That would make a conflict that nobody in the lab makes.
        """
        sites = self._sites(answers)
        in_the_way = {site.gateway for site in sites.values()} | set(_handed_out(network))
        guests = visitors(self._scenario, sites)
        return tuple(each for each in guests if each[0].fixed is None or each[0].fixed.address not in in_the_way)


_PARTS_OF_A_LEASE = {
    "address": "address",
    "prefix_length": "mask",
    "router": "router",
    "dns_server": "DNS server",
    "lease_seconds": "lease time",
    "relay_address": "giaddr",
}


def _altered(these: Results, those: Results) -> tuple[tuple[Tried, ...], tuple[str, ...]]:
    """The leases that are granted in two networks, but not alike; and in what they differ."""
    both = [(tried, _differences(tried, those[name])) for name, tried in these.items() if name in those]
    words = dict.fromkeys(word for _, differ in both for word in differ)
    return tuple(tried for tried, differ in both if differ), tuple(words)


def _differences(one: Tried, other: Tried) -> tuple[str, ...]:
    """In what two leases differ; nothing where one was not granted, or where these are no leases."""
    if not isinstance(one.outcome, Lease) or not isinstance(other.outcome, Lease):
        return ()
    pairs = (
        (word, getattr(one.outcome, part), getattr(other.outcome, part)) for part, word in _PARTS_OF_A_LEASE.items()
    )
    return tuple(word for word, here, there in pairs if here != there)


def _why(results: Results, tried: Tried) -> Dropped | None:
    """What stops it; where a station has no address because it got no lease, what stops the lease."""
    drop = tried.outcome
    if not isinstance(drop, Dropped):
        return None
    lease = results.get((TrialKind.LEASE, drop.at, ""))
    if drop.reason is Reason.NO_ADDRESS and lease is not None and isinstance(lease.outcome, Dropped):
        return lease.outcome
    return drop


def _has_no_address(tried: Tried) -> bool:
    return isinstance(tried.outcome, Dropped) and tried.outcome.reason is Reason.NO_ADDRESS


def _has_interface(network: Network, guest: Visitor) -> bool:
    """Whether its VLAN has a network at all; a visitor of one that is not planned stands at an address of the key's plan."""
    visitor, vlan = guest
    here = next(switch for switch in network.switches if switch.name == visitor.at.switch)
    return any(interface.place == vlan.number for interface in here.interfaces)


def _handed_out(network: Network) -> Iterator[IPv4Address]:
    """Of every pool so many addresses as there are clients, lowest first, without those that somebody is set to."""
    taken = {station.fixed.address for station in network.stations if station.fixed is not None}
    taken |= {interface.address for switch in network.switches for interface in switch.interfaces}
    clients = sum(station.uses_dhcp for station in network.stations)
    for pool in () if network.server is None else network.server.pools:
        numbers = range(int(pool.lowest), int(pool.highest) + 1)
        yield from islice((address for address in map(IPv4Address, numbers) if address not in taken), clients)


def _site(plan: SoFar, vlan: VlanId) -> Site:
    return Site(subnets.network_of(plan, vlan), plan.value(subnets.GATEWAY, subnets.row_of(vlan)))


def _put_right(own: Answers, cells: Collection[WrongCell]) -> Answers:
    return own.changed(
        {cell.ref: cell.expected for cell in cells if cell.flaw is not Flaw.EXTRA},
        without=[(cell.section.id, cell.row) for cell in cells if cell.flaw is Flaw.EXTRA],
        added=[(cell.section.id, cell.row) for cell in cells if cell.flaw is Flaw.MISSING],
    )


def _put_wrong(key: Answers, cells: Collection[WrongCell]) -> Answers:
    rows = [(cell, cell.row if cell.key_row is None else cell.key_row) for cell in cells]
    return key.changed(
        {CellRef(cell.question.id, row): cell.value for cell, row in rows},
        without=[(cell.section.id, row) for cell, row in rows if cell.flaw is Flaw.MISSING],
        added=[(cell.section.id, row) for cell, row in rows if cell.flaw is Flaw.EXTRA],
    )
