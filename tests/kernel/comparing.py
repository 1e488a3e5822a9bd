"""The same trials in the simulation and in the kernel, and where the two differ.

The only test code that knows both sides. EXEMPT says where they differ on purpose; real_network.HOUSE_RULES says which
rules of the lab the builder brings about because a kernel would not.
"""

import re
from dataclasses import dataclass, field
from ipaddress import IPv4Address
from typing import Any

from kernel_trials import guests_of, name_of, trials_of
from measuring import measure
from sending import probe

from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind, Tried, Visitor, plugged_in, try_network
from trainer.network.addresses import Mac
from trainer.network.devices import Network, Station
from trainer.network.dhcp import renew
from trainer.network.forwarding import send_from_switch
from trainer.network.packets import Delivered, Dropped, Icmp, Outcome, Packet, Payload, Reason
from trainer.network.topology import Running, switch_mac
from trainer.network.trials import Ping, forge, heard, ping, rogue_offer, without_guard, without_snooping

Trial = dict[str, Any]

EXEMPT = {
    "duplicate address": "Two devices claim one address: in the simulation nobody reaches either (a rule of the Brief), in a "
    "kernel whoever answers first is reached. Exempt: what meets such an address, from it, to it or on the way.",
    "loopback address": "No device may have one (RFC 1122 3.2.1.3 (g)); a kernel answers its own pings to one itself, and no "
    "device of the lab is asked. Exempt: pings to one.",
    "relay by route": "A relay agent's answer goes out to the VLAN that it heard (RFC 1542 4.1.2); dnsmasq sends one to a "
    "client that has an address by its routing table. Exempt: rebinding, where that leads elsewhere or nowhere.",
    "pools that overlap": "The networks of two pools hold a client's address: which of them it is of no standard says, and "
    "dnsmasq refuses some. Exempt: its renewals.",
}
"""Where simulation and kernel differ on purpose, which rule is the reason, and what is not compared because of it."""

SETTLED = {each.value for each in Icmp}
"""Errors that are compared. One that is seen has to be the right one, always. Where one should be, its switch has to have
told that sender one at least: a kernel tells it five at once, then one a second (RFC 1812 4.3.2.8 wants a limit)."""
NOT_MEASURED = {
    TrialKind.ROGUE_ON_LINK: "It asks one port's filter alone, which is ours on both sides: nothing of a kernel's is tried.",
}
"""Trials of the proof that are not made in a kernel, and why."""


@dataclass(slots=True)
class Comparison:
    """What was tried and found to differ in one lab."""

    leases: int = 0
    trials: int = 0
    exempt: dict[str, int] = field(default_factory=dict)
    errors: int = 0
    """Errors that senders saw, of those that are compared."""
    differences: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    is_second: bool = False
    """Whether it was measured again because trials had differed."""
    failed: dict[str, bool] = field(default_factory=dict)
    """Whether it failed in the kernel, by kind and subject as feedback names them: no lease, no answer, attack passed."""


def compare(lab: Scenario, answers: Answers) -> Comparison:
    """Tries everything on both sides. A trial that differs is told in words with what each side saw.

    Where any differs, the lab is measured once more, and only what differs again counts: on a machine that is busy a
    packet may come too late, but a rule that is wrong is wrong each time.
    """
    guests = guests_of(lab, derive_key(lab))
    network = build(lab, answers).network
    visited = network.with_visitors(plugged_in(guests))
    trials = trials_of(lab, visited)
    found = compare_with(measure(show_configuration(visited), trials), trials, Simulation(lab, network, guests))
    if found.differences:
        again = compare_with(measure(show_configuration(visited), trials), trials, Simulation(lab, network, guests))
        before = {each.split(":")[0] for each in found.differences}
        again.differences = [each for each in again.differences if each.split(":")[0] in before]
        again.is_second = True
        return again
    return found


def compare_with(measured: dict[str, Any], trials: list[Trial], simulation: "Simulation") -> Comparison:
    """The simulation's outcomes beside measured ones."""
    found = Comparison(seconds=measured["seconds"])
    for station in simulation.network.stations:
        if station.name in simulation.results:
            found.leases += 1
            seen = measured["leases"].get(station.name)
            found.failed[f"lease {station.name}"] = seen is None
            _note(found, simulation.lease_difference(station, seen, by_pool=measured["server-pings"]), station.name)
    _note(found, simulation.rows_difference(measured["rows"]), "binding tables")
    for name in simulation.not_among(trials):
        _note(found, "a trial of the proof that is not measured", str(name))
    told = {(station, teller) for station, address in measured["told"] for teller in simulation.who_has(address)}
    for trial, seen, error in zip(trials, measured["trials"], measured["heard"], strict=True):
        found.trials += 1
        found.failed[_as_told(trial)] = seen["protected"] if isinstance(seen, dict) else seen != "answered"
        expected, reason = simulation.outcome(trial)
        if reason:
            found.exempt[reason] = found.exempt.get(reason, 0) + 1
        elif expected != seen:
            _note(found, f"simulation {expected} ({simulation.why(trial)}), kernel {seen}", _subject(trial))
        elif not simulation.told_alike(trial, seen):
            _note(found, f"the proof has {simulation.tried[name_of(trial, simulation.guests)]}", _subject(trial))
        elif seen in ("arrived", "lost") and trial["kind"] in ("ping", "reach"):
            settled = error if error is not None and tuple(error[:2]) in SETTLED else None
            found.errors += settled is not None
            _note(found, simulation.error_difference(trial, settled, told), _subject(trial))
    return found


def _note(found: Comparison, difference: str, subject: str) -> None:
    if difference:
        found.differences.append(f"{subject}: {difference}")


VISITOR = r"(?:first|last) needed address of (VLAN .+?) \(no\. (\d+)\)"


def _as_told(trial: Trial) -> str:
    """The trial as feedback names it: a visitor by its number, "last needed address of VLAN 30 (no. 87)" as host 87."""
    names = (trial["from"], trial.get("to") or trial.get("address"))
    source, target = (re.sub(VISITOR, r"host \2 of \1", str(name)) for name in names)
    if trial["kind"] == "rogue":
        return f"rogue offer {source} offers an address to {target}"
    for what, word in (("address_of", "address"), ("mac_of", "MAC")):
        if what in trial:
            return f"forged packet {source} sends to the server with the {word} of {trial[what]}"
    return f"{trial['kind']} {source} to {target}"


def _subject(trial: Trial) -> str:
    return " ".join(f"{field} {value}" for field, value in trial.items())


class Simulation:
    """A network in operation in the simulation, asked in the terms in which the kernel is measured."""

    def __init__(self, lab: Scenario, network: Network, guests: tuple[Visitor, ...]) -> None:
        self.guests = guests
        self.running, tried = try_network(lab, network, guests, with_controls=True)
        self.network = self.running.network
        self.results = {each.source: each.outcome for each in tried if each.kind is TrialKind.LEASE}
        self.tried: dict[Any, Tried] = {each.name: each for each in tried if each.kind is not TrialKind.LEASE}
        self.by_protection = {
            "protected": self.running,
            "rogue": without_snooping(self.running),
            "forge": without_guard(self.running),
        }
        self.shared = self._stations_with_shared_addresses()

    def lease_difference(self, station: Station, seen: dict[str, Any] | None, *, by_pool: bool) -> str:
        """Leases are compared by address, mask, router, time and server.

        by_pool: by pool instead of address. A server that asks before it offers passes over addresses that it asked for lately
        on behalf of another client.
        """
        result, lease = self.results[station.name], self.running.leases.get(station.name)
        if lease is None or seen is None:
            return "" if lease is seen is None else f"simulation {result}, kernel {seen}"
        server = self.running.host(self.network.station(self.network.server.station))
        pool = next(pool for pool in self.network.server.pools if pool.key == lease.pool)
        same = (
            pool.lowest <= IPv4Address(seen["address"]) <= pool.highest
            if by_pool
            else seen["address"] == str(lease.address),
            seen["prefix-length"] == lease.prefix_length,
            seen["router"] == (None if lease.router is None else str(lease.router)),
            seen["dns-server"] == (None if lease.options.dns_server is None else str(lease.options.dns_server)),
            seen["lease-time"] == lease.lease_seconds,
            seen["server"] == str(IPv4Address(server.address)),
        )
        return "" if all(same) else f"simulation {lease}, {result}, kernel {seen}"

    def rows_difference(self, seen: dict[str, Any]) -> str:
        """Binding tables are compared by switch, port, VLAN and MAC."""
        static = {
            (switch.name, row.port, row.vlan, row.mac) for switch in self.network.switches for row in switch.static_rows
        }
        kernel = static | {
            (switch, port, vlan, mac.upper().replace(":", "-"))
            for switch in seen
            for port, vlan, mac, _ in seen[switch]
        }
        simulated = {(switch, row.port, row.vlan, row.mac) for switch, row in self.running.rows}
        return "" if simulated == kernel else f"simulation only {simulated - kernel}, kernel only {kernel - simulated}"

    def not_among(self, trials: list[Trial]) -> set[Any]:
        """Trials that prove a key, and mark answers, and are not among these."""
        made = {name for name, each in self.tried.items() if each.kind not in NOT_MEASURED}
        return made - {name_of(trial, self.guests) for trial in trials}

    def told_alike(self, trial: Trial, seen: Any) -> bool:
        """Whether the proof's own trial, where it makes this one, says what was seen."""
        tried = self.tried.get(name_of(trial, self.guests))
        if tried is None:
            return True
        if trial["kind"] == "ping":
            return tried.works is (seen == "answered")
        stages = {"protected": tried.outcome, "control": tried.control}
        return {stage: isinstance(outcome, Delivered) for stage, outcome in stages.items()} == seen

    def outcome(self, trial: Trial) -> tuple[Any, str]:
        """What the kernel should show, and the reason of EXEMPT why it need not; empty where it must."""
        names = {trial["from"], trial.get("to"), trial.get("address_of")}
        reason = "duplicate address" if names & self.shared and trial["kind"] != "rogue" else ""
        if trial["kind"] == "renew":
            renewal = renew(self.running, self.network.station(trial["from"]))
            if Reason.DUPLICATE_ADDRESS in (_reason(renewal.unicast), _reason(renewal.broadcast)):
                reason = "duplicate address"
            elif self._is_of_two_pools(trial["from"]):
                reason = "pools that overlap"
            elif renewal.unicast is not None and renewal.drop is None and self._is_lost_by_route(trial["from"]):
                reason = "relay by route"
            by = "renewed" if renewal.unicast is None else "rebound"
            return (by if renewal.drop is None else "lost"), reason
        if trial["kind"] in ("ping", "reach"):
            request, reply = self._ping(trial)
            if Reason.DUPLICATE_ADDRESS in (_reason(request), _reason(reply)):
                reason = "duplicate address"
            elif self._is_at_loopback(trial):
                reason = "loopback address"
            if isinstance(request, Delivered) and isinstance(reply, Delivered):
                return "answered", reason
            is_there = isinstance(request, Delivered) and request.at == trial.get("to")
            return "arrived" if is_there else "lost", reason
        outcomes = {
            "protected": self._attack(trial, self.running),
            "control": self._attack(trial, self.by_protection[trial["kind"]]),
        }
        if Reason.DUPLICATE_ADDRESS in map(_reason, outcomes.values()):
            reason = "duplicate address"
        return {
            stage: isinstance(outcome, Delivered) and outcome.at == trial["to"] for stage, outcome in outcomes.items()
        }, reason

    def _is_at_loopback(self, trial: Trial) -> bool:
        if "address" in trial:
            return IPv4Address(trial["address"]).is_loopback
        fixed = self.network.station(trial["to"]).fixed
        return fixed is not None and fixed.address.is_loopback

    def _is_of_two_pools(self, client: str) -> bool:
        lease = self.running.leases.get(client)
        return lease is not None and sum(lease.address in pool.network for pool in self.network.server.pools) > 1

    def _is_lost_by_route(self, client: str) -> bool:
        """Whether what a relay agent of the client's VLAN sends to it by the routing table gets elsewhere, or nowhere."""
        station, running = self.network.station(client), self.running
        host, ingress = running.host(station), running.ingress(station)
        if host is None or ingress is None:
            return False
        relaying = [
            (switch.name, interface)
            for switch in self.network.switches
            for interface in running.tables[switch.name].interfaces
            if (switch.name, interface.place) in running.domain(ingress.segment)
            and any(relay.vlan == interface.place for relay in switch.relays)
        ]
        outcomes = [
            send_from_switch(running, name, _answer(switch_mac(name), interface.address, host.address))
            for name, interface in relaying
        ]
        return any(isinstance(outcome, Dropped) or outcome.at != client for outcome in outcomes)

    def why(self, trial: Trial) -> str:
        """The simulation's own words about a trial."""
        if trial["kind"] == "renew":
            return str(renew(self.running, self.network.station(trial["from"])))
        if trial["kind"] in ("ping", "reach"):
            return "; ".join(str(outcome) for outcome in self._ping(trial))
        return "; ".join(str(self._attack(trial, self.by_protection[key])) for key in ("protected", trial["kind"]))

    def error_difference(self, trial: Trial, seen: list[Any] | None, told: set[tuple[str, str]]) -> str:
        """What the sender of a ping that is not answered sees: nothing, or which error, and from which switch.

        told: stations, and the switches that told them any error.
        """
        found = heard(self.running, self.network.station(trial["from"]), Ping(*self._ping(trial)))
        if seen is None:
            is_missing = found.error is not None and (trial["from"], found.teller) not in told
            return f"simulation {found}, kernel nothing" if is_missing else ""
        kind, code, address = seen
        tellers = self.who_has(address)
        same = found.error is not None and found.error.value == (kind, code) and found.teller in tellers
        return (
            "" if same else f"simulation {found} ({self.why(trial)}), kernel {kind}/{code} from {address} of {tellers}"
        )

    def who_has(self, address: str) -> set[str]:
        """The switches that have the address."""
        number = int(IPv4Address(address))
        return {name for name, addresses in self.running.own_addresses.items() if number in addresses}

    def _ping(self, trial: Trial) -> tuple[Outcome, Outcome | None]:
        source = self.network.station(trial["from"])
        if trial["kind"] == "ping":
            tried = ping(self.running, source, self.network.station(trial["to"]))
            return tried.request, tried.reply
        address = IPv4Address(trial["address"])
        request, host = probe(self.running, source, address), self.running.host(source)
        if not isinstance(request, Delivered) or host is None:
            return request, None
        if request.at in self.running.switches:
            answer = Packet(source=int(address), destination=host.address, source_mac=switch_mac(request.at))
            reply = send_from_switch(self.running, request.at, answer)
        else:
            reply = probe(self.running, self.network.station(request.at), IPv4Address(host.address))
        return request, reply if isinstance(reply, Dropped) or reply.at == source.name else None

    def _attack(self, trial: Trial, running: Running) -> Outcome | None:
        """None where it cannot even be tried."""
        source, target = self.network.station(trial["from"]), self.network.station(trial["to"])
        if trial["kind"] == "rogue":
            return rogue_offer(running, source, target)
        if "mac_of" in trial:
            return forge(running, source, target, mac=self.network.station(trial["mac_of"]).mac)
        borrowed = running.host(self.network.station(trial["address_of"]))
        return forge(running, source, target, address=IPv4Address(0 if borrowed is None else borrowed.address))

    def _stations_with_shared_addresses(self) -> set[str]:
        holders: dict[int, list[str]] = {}
        for station in self.network.stations:
            host = self.running.host(station)
            if host is not None:
                holders.setdefault(host.address, []).append(station.name)
        for name, addresses in self.running.own_addresses.items():
            for address in addresses:
                holders.setdefault(address, []).append(f"switch {name}")
        return {name for names in holders.values() if len(names) > 1 for name in names}


def _answer(source_mac: Mac, source: IPv4Address, destination: int) -> Packet:
    return Packet(source=int(source), destination=destination, source_mac=source_mac, payload=Payload.DHCP_REPLY)


def _reason(outcome: Outcome | None) -> Reason | None:
    return outcome.reason if isinstance(outcome, Dropped) else None
