"""Whose trials may end otherwise in one network in operation than in another that is much like it.

A ping rests on its two stations (where they are plugged in, their addresses, their gateways), on who answers for their
addresses and for those that packets are handed to on the way, on where each switch's routing table leads for two addresses,
and on source guard. So whoever has none of these changed fares as before: delivered or dropped, where, and for which
reason. So does who forges a source, for that is looked at by source guard alone; a false server rests on snooping and trust
besides. Which setting is to blame for a drop is looked for all over the network, and may be another one now.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from trainer.network.devices import PortRef
from trainer.network.paths import Member
from trainer.network.routing import Entry
from trainer.network.topology import Compiled, Running

__all__ = ["offering_otherwise", "touched"]


def touched(before: Running, after: Running) -> frozenset[str] | None:
    """The names of the stations whose pings may fare otherwise; None where it may be everybody's."""
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
    changed = {each.name for each in stations if each.mac in macs or each.at in replugged}
    moved = {*_answered_otherwise(before, after), *_addresses(before, changed), *_addresses(after, changed)}
    moved |= set(_sent_otherwise(before, after, moved))
    names = before.stations.keys() | after.stations.keys()
    changed.update(name for name in names if _is_changed(before, after, name, moved))
    return frozenset(changed)


def offering_otherwise(before: Running, after: Running) -> frozenset[str] | None:
    """Besides those whose pings may, the names of the stations whose false DHCP messages may fare otherwise, since snooping looks
    otherwise at what comes from them; None where it may be everybody's, and those that come in on links.
    """
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
    hosts = (running.host(running.stations[name]) for name in names if name in running.stations)
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


def _is_changed(before: Running, after: Running, name: str, moved: set[int]) -> bool:
    """Whether a station is set otherwise, or its address or its gateway is one for which something has changed."""
    station, other = after.stations.get(name), before.stations.get(name)
    if station is None or (other is not station and other != station):
        return True
    host = after.host(station)
    if host != before.host(station):
        return True
    return host is not None and (host.address in moved or host.gateway in moved)
