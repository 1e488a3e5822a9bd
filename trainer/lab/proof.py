"""The proof of a key: its network is built and tried, and a trial that cannot fail is not counted as one."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Address

from trainer.errors import TrainerError
from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef, RowKey
from trainer.lab.kinds import INFINITE, BindingType
from trainer.lab.questions import bindings, pools, relays, subnets
from trainer.lab.questions.protection import guarded_ports
from trainer.lab.scenario import GatewayPlace, Scenario, Vlan
from trainer.network.addresses import Mac, network_at, usable_address
from trainer.network.devices import FixedAddress, PortName, PortRef, Station, SwitchName
from trainer.network.dhcp import start
from trainer.network.packets import Delivered, Dropped, Outcome, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trials import forge, ping, rogue_offer, without_guard, without_snooping

__all__ = ["Proof", "ProofFailed", "Trial", "TrialKind", "prove"]


class TrialKind(Enum):
    """What was tried."""

    LEASE = "lease"
    BINDINGS = "binding table"
    PING = "ping between stations"
    REACH = "ping to a needed address"
    ROGUE_SERVER = "rogue server"
    FORGED_ADDRESS = "forged source address"
    FORGED_MAC = "forged source MAC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One thing tried on the key's network, and what was seen."""

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

    trials: tuple[Trial, ...]

    def count(self, kind: TrialKind) -> int:
        return sum(trial.kind is kind for trial in self.trials)


class ProofFailed(TrainerError):
    """A lab whose key does not work. Nothing of it is written; the text names the trial and what was seen."""


def prove(scenario: Scenario, key: Answers) -> Proof:
    """Builds the key's network and tries it.

    Leases through the relay agents; every pair of stations both ways; the first and the last needed address of every
    network, so that a mask one bit long shows; a rogue server; forged source addresses and MACs. Protective trials
    count only if their control, the same with that protection off, gets through.

    Raises ProofFailed on the first trial that does not go as wanted.
    """
    return Proof(tuple(_checked(scenario, trial) for trial in _trials(scenario, key)))


def _checked(scenario: Scenario, trial: Trial) -> Trial:
    if trial.as_wanted:
        return trial
    control = f"; with the protection off: {trial.control}" if trial.control else ""
    raise ProofFailed(
        f"Lab {scenario.lab_number} failed its proof and was not written. Trial: {trial.kind.value}, {trial.subject}. "
        f"Seen: {trial.seen}{control}."
    )


def _trials(scenario: Scenario, key: Answers) -> Iterator[Trial]:
    network = build(scenario, key).network
    visitors = _visitors(scenario, key)
    running, leases = start(network.with_visitors(visitors))
    yield from _leases(scenario, key, leases)
    yield from _pings(running, network.stations)
    yield from _reaches(scenario, running, [visitor for visitor, _ in visitors])
    yield from _rogues(scenario, running)
    yield from _forgeries(scenario, running)
    yield from _bindings(scenario, key, running)


def _leases(scenario: Scenario, key: Answers, leases: dict[str, Lease | Dropped]) -> Iterator[Trial]:
    """Every DHCP station gets the address, mask, router and lease that the key foretells, through the relay it names."""
    for station in scenario.stations:
        if station.fixed_number is not None:
            continue
        lease = leases[station.name]
        foretold = _foretold(scenario, key, station.name, lease)
        differs = isinstance(lease, Lease) and lease != foretold
        yield Trial(
            kind=TrialKind.LEASE,
            subject=station.name,
            seen=_seen_lease(lease) + (f"; the key foretells {_seen_lease(foretold)}" if differs else ""),
            as_wanted=lease == foretold,
        )


def _bindings(scenario: Scenario, key: Answers, running: Running) -> Iterator[Trial]:
    """When all stations have started, the table of each switch holds the rows that the key foretells, and no others."""
    foretold: dict[SwitchName, set[str]] = {switch.name: set() for switch in scenario.switches}
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
            foretold.setdefault(at.switch, set()).add(words)
    for switch, rows in foretold.items():
        seen = {f"{row.port} {row.vlan} {row.mac} {row.address} " for name, row in running.rows if name == switch}
        differ = sorted(seen ^ rows)
        yield Trial(
            kind=TrialKind.BINDINGS,
            subject=f"switch {switch}",
            seen=f"{len(seen)} rows" + (f"; not as the key foretells: {'; '.join(differ)}" if differ else ""),
            as_wanted=not differ,
        )


def _foretold(scenario: Scenario, key: Answers, name: str, lease: Lease | Dropped) -> Lease:
    """The lease that the key foretells. No table asks for the address of a station in a VLAN that is not snooped, so
    there any address of the pool will do.
    """
    vlan = scenario.station_by_name[name].vlan
    row = subnets.row_of(vlan)
    first, length = key.get(pools.POOL_FIRST, row), key.get(subnets.MASK, row)
    assert first is not None
    assert length is not None
    unasked = lease.address if isinstance(lease, Lease) else first
    return Lease(
        address=key.values.get(CellRef(bindings.BINDING_ADDRESS.id, RowKey(name)), unasked),
        prefix_length=length,
        router=key.get(subnets.GATEWAY, row),
        lease_seconds=scenario.lease_hours * 3600,
        pool=row,
        relay_address=key.get(relays.RELAY_ADDRESS, RowKey(str(vlan))),
    )


def _seen_lease(lease: Lease | Dropped) -> str:
    if isinstance(lease, Dropped):
        return str(lease)
    relayed = f" through relay {lease.relay_address}" if lease.relay_address else ""
    return f"{lease.address}/{lease.prefix_length}, router {lease.router}, {lease.lease_seconds} s{relayed}"


def _pings(running: Running, stations: tuple[Station, ...]) -> Iterator[Trial]:
    for source in stations:
        for target in stations:
            if source is not target:
                yield _ping(running, TrialKind.PING, source, target)


def _ping(running: Running, kind: TrialKind, source: Station, target: Station) -> Trial:
    drop = ping(running, source, target).drop
    return Trial(
        kind=kind,
        subject=f"{source.name} to {target.name}",
        seen="answered" if drop is None else str(drop),
        as_wanted=drop is None,
    )


def _visitors(scenario: Scenario, key: Answers) -> list[tuple[Station, int]]:
    """A visitor at the first and at the last needed address of every network, unless a station has it or will get it."""
    visitors = []
    for vlan in scenario.vlans:
        row = subnets.row_of(vlan.number)
        length, gateway = key.get(subnets.MASK, row), key.get(subnets.GATEWAY, row)
        network_address = key.get(subnets.NETWORK_ADDRESS, row)
        assert length is not None
        assert network_address is not None
        network = network_at(network_address, length)
        taken = {station.fixed_number for station in scenario.stations if station.vlan == vlan.number}
        taken.update(
            range(scenario.kept_for_fixed + 1, scenario.kept_for_fixed + len(scenario.dhcp_stations(vlan.number)) + 1)
        )
        for place, number in zip(("first", "last"), _needed_hosts(scenario, vlan), strict=True):
            if number in taken:
                continue
            taken.add(number)
            fixed = FixedAddress(address=usable_address(network, number), prefix_length=length, gateway=gateway)
            visitor = Station(
                name=f"{place} needed address of VLAN {vlan.number} (no. {number})",
                mac=Mac(f"visitor {vlan.number} {place}"),
                at=PortRef(vlan.switch, PortName(f"visitor {vlan.number} {place}")),
                uses_dhcp=False,
                fixed=fixed,
            )
            visitors.append((visitor, vlan.number))
    return visitors


def _needed_hosts(scenario: Scenario, vlan: Vlan) -> tuple[int, int]:
    """Numbers of the lowest and the highest usable address that a host of the network may need."""
    if scenario.gateway is GatewayPlace.LAST_USABLE:
        return 1, vlan.addresses_needed - 1
    return 2, vlan.addresses_needed


def _reaches(scenario: Scenario, running: Running, visitors: list[Station]) -> Iterator[Trial]:
    """To each needed address and back again, from the server and from one visitor on every switch: each switch's own
    route or interface has to cover the address.
    """
    server = running.network.station(scenario.server.name)
    by_switch = {visitor.at.switch: visitor for visitor in reversed(visitors)}
    for visitor in visitors:
        for partner in (server, *by_switch.values()):
            if partner is not visitor:
                yield _ping(running, TrialKind.REACH, partner, visitor)


def _rogues(scenario: Scenario, running: Running) -> Iterator[Trial]:
    """In every snooped VLAN with DHCP stations each station plays a false server for another one."""
    unprotected = without_snooping(running)
    for vlan in scenario.dhcp_vlans:
        if not vlan.is_snooped:
            continue
        stations = [station for station in scenario.stations if station.vlan == vlan.number and not station.is_server]
        victims = scenario.dhcp_stations(vlan.number)
        for rogue in stations:
            victim = next((each for each in victims if each is not rogue), None)
            if victim is not None:
                yield _protective(
                    TrialKind.ROGUE_SERVER,
                    f"{rogue.name} offers an address to {victim.name}",
                    Reason.PORT_NOT_TRUSTED,
                    *(
                        rogue_offer(each, each.network.station(rogue.name), each.network.station(victim.name))
                        for each in (running, unprotected)
                    ),
                )


def _forgeries(scenario: Scenario, running: Running) -> Iterator[Trial]:
    """Every station on a guarded port sends with the address of another, and with another MAC."""
    unprotected = without_guard(running)
    guarded = guarded_ports(scenario)
    server = running.network.station(scenario.server.name)
    for plan in scenario.stations:
        if plan.at not in guarded:
            continue
        station = running.network.station(plan.name)
        others = (each for each in running.network.stations if each.name not in (plan.name, server.name))
        other = next(others, server)
        borrowed = running.host(other)
        assert borrowed is not None
        yield _protective(
            TrialKind.FORGED_ADDRESS,
            f"{station.name} sends to the server with the address of {other.name}",
            Reason.SOURCE_NOT_BOUND,
            *(forge(each, station, server, address=IPv4Address(borrowed.address)) for each in (running, unprotected)),
        )
        yield _protective(
            TrialKind.FORGED_MAC,
            f"{station.name} sends to the server with the MAC of {other.name}",
            Reason.SOURCE_NOT_BOUND,
            *(forge(each, station, server, mac=other.mac) for each in (running, unprotected)),
        )


def _protective(kind: TrialKind, subject: str, wanted: Reason, protected: Outcome, control: Outcome) -> Trial:
    """A trial that goes as wanted where the protection drops it and the control arrives."""
    dropped = isinstance(protected, Dropped) and protected.reason is wanted
    return Trial(
        kind=kind,
        subject=subject,
        seen=_seen(protected),
        as_wanted=dropped and isinstance(control, Delivered),
        control=_seen(control),
    )


def _seen(outcome: Outcome) -> str:
    return f"arrived at {outcome.at}" if isinstance(outcome, Delivered) else str(outcome)
