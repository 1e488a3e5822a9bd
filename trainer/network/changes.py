"""Whose trials may end otherwise in one network in operation than in another that is much like it.

A packet rests on who sends it (where that station is plugged in, its address, its gateway and who answers for that), on who
answers for the address it is for and for those that it is handed to on the way, on where each switch's routing table leads
for it, and on source guard. So where none of these has changed it fares as before: delivered or dropped, where, and for
which reason. A false server's message goes no further than its VLAN and rests on snooping besides. Which setting is to blame
for a drop is looked for all over the network, and may be another one now.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from trainer.network.devices import PortRef, Station
from trainer.network.paths import Member
from trainer.network.routing import Entry
from trainer.network.topology import Compiled, Running

__all__ = ["Changes", "changes"]


class Changes(NamedTuple):
    """Of which stations something has changed, by name."""

    placed: frozenset[str]
    """Their address, where they are plugged in, what is looked at there, or what binding tables have of them."""
    sending: frozenset[str]
    """That, their mask, or to whom they hand what goes further."""
    reached: frozenset[str]
    """Who answers for their address, or how packets for it go from some switch on."""
    offering: frozenset[str] | None
    """What snooping looks at of what comes from them; None where it may be everybody's, and of what comes in on links."""

    @property
    def pinging(self) -> frozenset[str]:
        """Whose pings, there and back, may fare otherwise."""
        return self.sending | self.reached


def changes(before: Running, after: Running) -> Changes | None:
    """Whose packets may fare otherwise; None where it may be everybody's."""
    if before.network.cables != after.network.cables or before.trunks != after.trunks:
        return None
    if before.compiled.keys() != after.compiled.keys():
        return None
    replugged = _ports_set_otherwise(before, after, lambda switch: switch.as_data_sees)
    if _has_cable(after, replugged):
        return None
    macs = {mac for _, _, _, mac, _ in before.bound.keys() ^ after.bound.keys()}
    if any(switch.mac in macs for switch in after.compiled.values()):
        return None
    stations = (*before.network.stations, *after.network.stations) if macs or replugged else ()
    checked = {each.name for each in stations if each.mac in macs or each.at in replugged}
    answered = {*_answered_otherwise(before, after), *_addresses(before, checked), *_addresses(after, checked)}
    moved = answered.union(_sent_otherwise(before, after, answered))
    placed, sending, reached = checked, set(checked), set()
    for name in before.stations.keys() | after.stations.keys():
        one, two = before.hosts.get(name), after.hosts.get(name)
        was, now = None if one is None else one.address, None if two is None else two.address
        if was != now or _is_elsewhere(before.stations.get(name), after.stations.get(name)):
            placed.add(name)
            sending.add(name)
        elif one != two or (two is not None and two.gateway in answered):
            sending.add(name)
        if was in moved or now in moved:
            reached.add(name)
    return Changes(frozenset(placed), frozenset(sending), frozenset(reached), _offering_otherwise(before, after))


def _is_elsewhere(before: Station | None, after: Station | None) -> bool:
    if before is after:
        return False
    return before is None or after is None or (before.at, before.mac) != (after.at, after.mac)


def _offering_otherwise(before: Running, after: Running) -> frozenset[str] | None:
    ports = _ports_set_otherwise(before, after, lambda switch: switch.ingresses)
    if _has_cable(after, ports):
        return None
    return frozenset(each.name for each in after.network.stations if each.at in ports)


def _ports_set_otherwise(
    before: Running, after: Running, seen: Callable[[Compiled], Mapping[PortRef, object]]
) -> set[PortRef]:
    """seen: what is looked at of a switch, port by port."""
    both = [(seen(before.compiled[name]), seen(switch)) for name, switch in after.compiled.items()]
    return {
        port
        for these, those in both
        if these is not those
        for port in these.keys() | those.keys()
        if these.get(port) != those.get(port)
    }


def _has_cable(running: Running, ports: set[PortRef]) -> bool:
    return any(cable.first in ports or cable.second in ports for cable in running.network.cables)


def _addresses(running: Running, names: Iterable[str]) -> Iterator[int]:
    hosts = map(running.hosts.get, names)
    return (host.address for host in hosts if host is not None)


def _answered_otherwise(before: Running, after: Running) -> Iterator[int]:
    """The addresses for which somebody else answers, or somewhere else."""
    these, those = before.members, after.members
    return (
        address
        for address in these.keys() | those.keys()
        if not _answer_alike(these.get(address, ()), those.get(address, ()))
    )


def _answer_alike(these: Sequence[Member], those: Sequence[Member]) -> bool:
    """Whether they are the same, in the same places. How long an interface's prefix is does not matter to who asks for it."""
    return these == those or [each.who for each in these] == [each.who for each in those]


def _sent_otherwise(before: Running, after: Running, moved: set[int]) -> Iterator[int]:
    """The addresses of stations for which some switch's routing table leads elsewhere, or hands packets to an address for which
    somebody else answers.
    """
    tables = [(before.tables[name], table) for name, table in after.tables.items()]
    tables = [(one, other) for one, other in tables if one is not other or not moved.isdisjoint(other.next_hops)]
    addresses = {*_addresses(before, before.stations), *_addresses(after, after.stations)} - moved if tables else ()
    for one, other in tables:
        for address in addresses:
            entry = other.lookup(address)
            if (entry is not None and entry.next_hop in moved) or not _lead_alike(one.lookup(address), entry):
                yield address


def _lead_alike(one: Entry | None, other: Entry | None) -> bool:
    """Whether both hand packets to the same address out of the same interface, or ask there for the packet's own."""
    if one is None or other is None or one is other:
        return one is other
    if one.next_hop is None or other.next_hop is None:
        return one.next_hop == other.next_hop and one.interface == other.interface
    return (one.next_hop, one.interface.place, one.interface.address) == (
        other.next_hop, other.interface.place, other.interface.address,
    )  # fmt: skip
