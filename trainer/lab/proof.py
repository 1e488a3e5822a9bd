"""The proof of a key: its network is built and tried, and a trial that cannot fail is not counted as one."""

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address
from typing import NamedTuple

from trainer.errors import TrainerError
from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef
from trainer.lab.kinds import INFINITE, BindingType
from trainer.lab.leases import in_words
from trainer.lab.plan import pool_size
from trainer.lab.questions import bindings, pools, relays, stations, subnets
from trainer.lab.rows import StationRow
from trainer.lab.scenario import Scenario, Vlan
from trainer.lab.trials import Site, TrialKind, Tried, Visitor, plugged_in, renewals, try_network, visitors
from trainer.lab.vlan_id import VlanId
from trainer.listing import how_many
from trainer.network.addresses import Mac, network_at, prefix_length_for
from trainer.network.devices import DhcpOptions, Network, PortName, PortRef, Station, SwitchName
from trainer.network.dhcp import request_lease
from trainer.network.packets import Delivered, Dropped, Outcome
from trainer.network.topology import Lease, Running
from trainer.network.trials import hearers

__all__ = ["Proof", "ProofFailed", "ProofLine", "leases_served", "prove", "site_of"]


class ProofLine(NamedTuple):
    """One trial on the key's network, and what was seen. A tuple, because a proof has hundreds."""

    kind: TrialKind
    subject: str
    """From whom to whom."""
    seen: str
    as_wanted: bool
    control: str = ""
    """What was seen with the protection off; empty where nothing is protected."""


@dataclass(frozen=True, slots=True)
class Proof:
    """All trials of a lab, in order. Every one of them went as wanted."""

    trials: tuple[ProofLine, ...]
    network: Network
    """The key's, on which they were made."""

    def count(self, kind: TrialKind) -> int:
        return sum(trial.kind is kind for trial in self.trials)


class ProofFailed(TrainerError):
    """A lab whose key does not work. Nothing of it is written; the text names the trial and what was seen."""


def prove(scenario: Scenario, key: Answers) -> Proof:
    """Builds the key's network and tries it.

    Leases through the relay agents, their renewal, and the last lease that a pool has to hold; every pair of stations
    both ways; the first and the last needed address of every network, so that a mask one bit long shows; a rogue server;
    forged source addresses and MACs.
    Protective trials count only if their control, the same with that protection off, gets through.

    Raises ProofFailed on the first trial that does not go as wanted.
    """
    network = build(scenario, key).network
    return Proof(tuple(_checked(scenario, trial) for trial in _trials(scenario, key, network)), network)


def _checked(scenario: Scenario, trial: ProofLine) -> ProofLine:
    if trial.as_wanted:
        return trial
    control = f"; with the protection off: {trial.control}" if trial.control else ""
    raise ProofFailed(
        f"Lab {scenario.lab_number} failed its proof and was not written. Trial: {trial.kind.value}, {trial.subject}. "
        f"Seen: {trial.seen}{control}. That is a fault of this program: please send us the exercise workbook."
    )


def _trials(scenario: Scenario, key: Answers, network: Network) -> Iterator[ProofLine]:
    guests = visitors(scenario, {vlan.id: site_of(key, vlan.id) for vlan in scenario.vlans})
    running, tried = try_network(scenario, network, guests, with_controls=True)
    for each in tried:
        yield _lease(scenario, key, each) if each.kind is TrialKind.LEASE else _trial(each)
    for trial in renewals(scenario):
        yield _renewal(trial.run(running))
    yield from _last_leases(scenario, key, running, network)
    yield from _bindings(scenario, key, running)
    if scenario.rules.numbers_may_repeat:
        yield from _broadcasts(scenario, key, running)


def site_of(key: Answers, vlan: VlanId) -> Site:
    """The VLAN's network with the mask of its interface, so that a visitor notices where the two differ."""
    row = subnets.row_of(vlan)
    network_address, length = key.get(subnets.NETWORK_ADDRESS, row), key.get(subnets.MASK, row)
    assert network_address is not None
    assert length is not None
    return Site(network_at(network_address, length), key.get(subnets.GATEWAY, row))


def _trial(tried: Tried) -> ProofLine:
    """As wanted where it works; an attack's control has to arrive as well."""
    return ProofLine(
        kind=tried.kind,
        subject=tried.subject,
        seen=_seen(tried),
        as_wanted=tried.works and (tried.control is None or isinstance(tried.control, Delivered)),
        control="" if tried.control is None else _arrival(tried.control),
    )


def _lease(scenario: Scenario, key: Answers, tried: Tried) -> ProofLine:
    """A DHCP station gets the address, mask, router and lease that the key predicts, through the relay it names."""
    lease = tried.outcome
    assert not isinstance(lease, Delivered)
    predicted = _predicted(scenario, key, tried.source, lease)
    differs = isinstance(lease, Lease) and lease != predicted
    return ProofLine(
        kind=TrialKind.LEASE,
        subject=tried.subject,
        seen=_seen_lease(lease) + (f"; the key predicts {_seen_lease(predicted)}" if differs else ""),
        as_wanted=lease == predicted,
    )


def _renewal(tried: Tried) -> ProofLine:
    seen = str(tried.outcome) if isinstance(tried.outcome, Dropped) else "renewed"
    return ProofLine(kind=tried.kind, subject=tried.subject, seen=seen, as_wanted=tried.works)


def _last_leases(scenario: Scenario, key: Answers, running: Running, network: Network) -> Iterator[ProofLine]:
    """When every address of a pool that may be needed is taken but one, whoever comes last gets that one.

    Where a VLAN needs leases for its own stations only, they have shown it. network: without those who visit the running one.
    """
    in_want = (vlan for vlan in scenario.dhcp_vlans if not _all_have_theirs(scenario, vlan.id))
    guests = tuple(_latecomer(vlan) for vlan in in_want)
    full = running.resumed_in(network.with_visitors(plugged_in(guests)))
    for station, vlan in guests:
        needed, served = scenario.leases_needed(vlan), leases_served(scenario, vlan)
        first = key.get(pools.POOL_FIRST, subnets.row_of(vlan))
        assert first is not None
        last = first + served - 1
        full.leased_elsewhere.update(range(int(first), int(last)))
        lease = request_lease(full, station)
        short = f" (drawn before pools had to hold all; it needs {needed})" if served < needed else ""
        yield ProofLine(
            kind=TrialKind.LAST_LEASE,
            subject=f"lease no. {served} in VLAN {vlan}{short}",
            seen=_seen_lease(lease),
            as_wanted=isinstance(lease, Lease) and lease.address == last,
        )


def _all_have_theirs(scenario: Scenario, vlan: VlanId) -> bool:
    return leases_served(scenario, vlan) <= len(scenario.dhcp_stations(vlan))


def leases_served(scenario: Scenario, vlan: VlanId) -> int:
    """How many leases the VLAN's pool has to hold. In a lab that was drawn before pools had to hold all: what it can."""
    length = prefix_length_for(scenario.vlan_by_id[vlan].addresses_needed)
    holds = pool_size(length, scenario.rules.kept_for_fixed, scenario.rules.gateway)
    return min(scenario.leases_needed(vlan), holds)


def _latecomer(vlan: Vlan) -> Visitor:
    """A station that asks for a lease when all others of its VLAN have theirs."""
    name = f"latecomer in VLAN {vlan.id}"
    at = PortRef(vlan.switch, PortName(name))
    return Station(name=name, mac=Mac(name), at=at, uses_dhcp=True), vlan.id


def _bindings(scenario: Scenario, key: Answers, running: Running) -> Iterator[ProofLine]:
    """When all stations have started, the table of each switch holds the rows that the key predicts, and no others."""
    predicted: dict[SwitchName, set[str]] = {switch.name: set() for switch in scenario.switches}
    for row in key.rows[bindings.BINDINGS.id]:
        at = key.get(bindings.BINDING_PORT, row)
        if at is not None:
            lease = running.leases.get(row)
            granted = INFINITE if lease is None else lease.lease_seconds
            kind = BindingType.STATIC if lease is None else BindingType.DYNAMIC
            holds = key.get(bindings.BINDING_LEASE, row) == granted and key.get(bindings.BINDING_TYPE_OF, row) is kind
            vlan, mac = key.get(bindings.BINDING_VLAN, row), key.get(bindings.BINDING_MAC, row)
            address: IPv4Address | None = key.get(bindings.BINDING_ADDRESS, row)
            words = f"{at.port} {vlan} {mac} {address} {'' if holds else 'type or lease'}"
            predicted.setdefault(at.switch, set()).add(words)
    for switch, rows in predicted.items():
        seen = {f"{row.port} {row.vlan} {row.mac} {row.address} " for name, row in running.rows if name == switch}
        differ = sorted(seen ^ rows)
        yield ProofLine(
            kind=TrialKind.BINDINGS,
            subject=f"switch {switch}",
            seen=how_many(len(seen), "row") + (f"; not as the key predicts: {'; '.join(differ)}" if differ else ""),
            as_wanted=not differ,
        )


def _broadcasts(scenario: Scenario, key: Answers, running: Running) -> Iterator[ProofLine]:
    """What a station sends to all is heard on the ports that the key predicts, of its own switch alone, its own among them."""
    for station in scenario.stations:
        home = station.at.switch
        ports = key.get(subnets.HEARD_ON, subnets.row_of(station.vlan)) or frozenset()
        predicted = {str(PortRef(home, port)) for port in ports}
        others = hearers(running, running.stations[station.name])
        heard = {str(each.at) for each in others if each.name in scenario.station_by_name}
        yield ProofLine(
            kind=TrialKind.BROADCAST,
            subject=f"{station.name} to all of VLAN {station.vlan}",
            seen=f"heard on {', '.join(sorted(heard)) or 'no port'}",
            as_wanted=heard | {str(station.at)} == predicted,
        )


def _predicted(scenario: Scenario, key: Answers, name: str, lease: Lease | Dropped) -> Lease:
    """The lease that the Brief and the rest of the key lead one to expect: nothing is taken from the pool's own cells but
    where it begins, or a wrong pool would be compared with itself. No table asks for the address of a station in a VLAN that
    is not snooped, so there any address of the pool will do.
    """
    vlan = scenario.station_by_name[name].vlan
    row, server = subnets.row_of(vlan), key.get(stations.STATION_ADDRESS, StationRow(scenario.server.name))
    first, length = key.get(pools.POOL_FIRST, row), key.get(subnets.MASK, row)
    assert first is not None
    assert length is not None
    unasked = lease.address if isinstance(lease, Lease) else first
    return Lease(
        address=key.values.get(CellRef(bindings.BINDING_ADDRESS.id, StationRow(name)), unasked),
        prefix_length=length,
        router=key.get(subnets.GATEWAY, row),
        lease_seconds=scenario.lease_hours * 3600,
        pool=row,
        relay_address=key.get(relays.RELAY_ADDRESS, row),
        options=DhcpOptions(**dict.fromkeys(scenario.rules.options_given, server)),
    )


def _seen_lease(lease: Lease | Dropped) -> str:
    if isinstance(lease, Dropped):
        return str(lease)
    relayed = f" through relay {lease.relay_address}" if lease.relay_address else ""
    return in_words(lease) + relayed


def _seen(tried: Tried) -> str:
    outcome = tried.outcome
    assert not isinstance(outcome, Lease)
    if tried.kind in (TrialKind.PING, TrialKind.REACH) and isinstance(outcome, Delivered):
        return "answered"
    return _arrival(outcome)


def _arrival(outcome: Outcome) -> str:
    return f"arrived at {outcome.at}" if isinstance(outcome, Delivered) else str(outcome)
