"""Whose trials may end otherwise in one network in operation than in another that is much like it.

A ping rests on its two stations (where they are plugged in, their addresses, their gateways), on who answers for their
addresses and for those that packets are handed to on the way, on what each switch's routing table says of two addresses,
and on source guard. So whoever has none of these changed fares as before: delivered or dropped, where, and for which
reason. Attacks rest on what ports let in besides. Which setting is to blame for a drop is looked for all over the network,
and may be another one now.
"""

from collections.abc import Iterator

from trainer.network.topology import Running

__all__ = ["are_checked_alike", "touched"]


def are_checked_alike(before: Running, after: Running) -> bool:
    """Whether all ports let in what they let in before: snooping, trust and guard are set alike, and know the same rows."""
    return before.ingresses == after.ingresses and before.bound.keys() == after.bound.keys()


def touched(before: Running, after: Running) -> frozenset[str] | None:
    """The names of the stations whose pings may fare otherwise; None where it may be everybody's."""
    if before.network.cables != after.network.cables or before.trunks != after.trunks:
        return None
    if not _are_met_alike(before, after):
        return None
    macs = {mac for _, _, _, mac, _ in before.bound.keys() ^ after.bound.keys()}
    if any(switch.mac in macs for switch in after.compiled.values()):
        return None
    stations = {**before.stations, **after.stations}
    checked = {name for name, station in stations.items() if station.mac in macs}
    moved = set(_answered_otherwise(before, after)) | set(_addresses(before, checked)) | set(_addresses(after, checked))
    moved |= set(_sent_otherwise(before, after, moved))
    changed = (name for name in stations if _is_changed(before, after, name, moved))
    return frozenset(changed)


def _are_met_alike(before: Running, after: Running) -> bool:
    """Whether packets without a message of a DHCP server meet the same ports on every switch."""
    return before.compiled.keys() == after.compiled.keys() and all(
        before.compiled[name].as_data_sees == switch.as_data_sees for name, switch in after.compiled.items()
    )


def _addresses(running: Running, names: set[str]) -> Iterator[int]:
    hosts = (running.host(running.stations[name]) for name in names if name in running.stations)
    return (host.address for host in hosts if host is not None)


def _answered_otherwise(before: Running, after: Running) -> Iterator[int]:
    """The addresses for which somebody else answers, or somewhere else."""
    these, those = before.members, after.members
    return (address for address in these.keys() | those.keys() if these.get(address) != those.get(address))


def _sent_otherwise(before: Running, after: Running, moved: set[int]) -> Iterator[int]:
    """The addresses of stations for which some switch has another line in its routing table, or hands packets to an address
    for which somebody else answers.
    """
    addresses = {*_addresses(before, {*before.stations}), *_addresses(after, {*after.stations})}
    for name, table in after.tables.items():
        other = before.tables[name]
        for address in addresses if moved or table is not other else ():
            entry = table.lookup(address)
            if (entry is not None and entry.next_hop in moved) or (
                table is not other and entry != other.lookup(address)
            ):
                yield address


def _is_changed(before: Running, after: Running, name: str, moved: set[int]) -> bool:
    """Whether a station is set otherwise, or its address or its gateway is one for which something has changed."""
    station = after.stations.get(name)
    if station is None or before.stations.get(name) != station:
        return True
    host = after.host(station)
    if host != before.host(station):
        return True
    return host is not None and (host.address in moved or host.gateway in moved)
