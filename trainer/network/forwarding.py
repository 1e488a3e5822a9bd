"""A packet's way, device by device, until it is delivered or dropped (RFC 1122 3.3.1, RFC 1812 5.2)."""

from dataclasses import replace
from ipaddress import IPv4Address

from trainer.network import guard, snooping
from trainer.network.addresses import is_no_host, mask_bits
from trainer.network.devices import Missing, Part, PortRef, SettingId, Station, SwitchName
from trainer.network.packets import INITIAL_TTL, Delivered, Dropped, Outcome, Packet, Reason
from trainer.network.topology import Host, Member, Running, Segment, switch_mac

__all__ = ["enter", "send_from_station", "send_from_switch"]


def send_from_station(running: Running, station: Station, packet: Packet) -> Outcome:
    """The packet's fate when the station sends it.

    The station resolves addresses (ARP) as itself; the packet may carry another source, as a forged one does.
    """
    host = running.host(station)
    if host is None:
        what = "lease" if station.uses_dhcp else "address"
        return Dropped(station.name, Reason.NO_ADDRESS, Missing(station.name, Part.STATION, what), (station.name,))
    segment = running.segments.get(station.at)
    if segment is None:
        return Dropped(
            station.name,
            Reason.PORT_DOWN,
            Missing(station.at.switch, Part.PORT, station.at.port),
            (station.name,),
        )
    towards = packet.destination
    if (packet.destination ^ host.address) & host.mask:
        if host.gateway is None:
            missing = Missing(station.name, Part.STATION, "gateway")
            return Dropped(station.name, Reason.NO_GATEWAY, missing, (station.name,))
        if (host.gateway ^ host.address) & host.mask:
            return Dropped(station.name, Reason.GATEWAY_ELSEWHERE, _gateway_setting(running, station), (station.name,))
        towards = host.gateway
    elif is_no_host(towards, host.mask):
        own = SettingId(station.name, Part.STATION, station.name, "mask")
        return Dropped(station.name, Reason.NOT_A_HOST, own, (station.name,))
    asker = Member(station.name, segment, station.mac, station=station)
    because = (
        _gateway_setting(running, station)
        if towards != packet.destination
        else Missing(station.name, Part.STATION, str(IPv4Address(towards)))
    )
    found = _resolve(running, asker, host.address, towards, because)
    if isinstance(found, Dropped):
        return replace(found, path=(station.name,))
    stopped = enter(running, station.at, segment, found.segment, packet)
    if stopped is not None:
        return replace(stopped, path=(station.name,))
    return _arrive(running, found, packet, [station.name], _gateway_setting(running, station))


def send_from_switch(running: Running, switch: SwitchName, packet: Packet) -> Outcome:
    """The packet's fate when a switch sends it itself, as a relay agent does."""
    return _forward(running, switch, packet, [])


def enter(running: Running, port: PortRef | None, segment: Segment, target: Segment, packet: Packet) -> Dropped | None:
    """Takes a frame from a segment to another of its broadcast domain through the checks of every port it enters.

    port: the sender's own port, None where a switch sends. None: the frame arrives.
    """
    entered = running.domain(segment)[target]
    for each in entered if port is None else (port, *entered):
        dropped = snooping.check(running, each, packet) or guard.check(running, each, packet)
        if dropped is not None:
            return dropped
    return None


def _forward(running: Running, switch: SwitchName, packet: Packet, path: list[str]) -> Outcome:
    """Hands the packet on, switch by switch; the one that takes the last of its time to live drops it (RFC 1812 5.3.1)."""
    time_to_live = INITIAL_TTL
    while True:
        path.append(switch)
        if packet.destination in running.own_addresses[switch]:
            return Delivered(switch, tuple(path))
        entry = running.tables[switch].lookup(packet.destination)
        if entry is None:
            return Dropped(switch, Reason.NO_ROUTE, _no_route(running, switch, packet.destination), tuple(path))
        interface = entry.interface
        if entry.next_hop is None:
            towards = packet.destination
            because: SettingId = SettingId(switch, interface.part, str(interface.place), "network")
            if is_no_host(towards, mask_bits(interface.prefix_length)):
                return Dropped(switch, Reason.NOT_A_HOST, because, tuple(path))
        else:
            towards = entry.next_hop
            key = "" if entry.route is None else entry.route.key
            because = SettingId(switch, Part.ROUTE, key, "next_hop")
        time_to_live -= 1
        if not time_to_live:
            return Dropped(switch, Reason.TTL_EXPIRED, because, tuple(path))
        asker = Member(switch, (switch, interface.place), switch_mac(switch), interface=interface)
        found = _resolve(running, asker, int(interface.address), towards, because)
        if isinstance(found, Dropped):
            return replace(found, path=tuple(path))
        hop = replace(packet, source_mac=asker.mac)
        stopped = enter(running, None, asker.segment, found.segment, hop)
        if stopped is not None:
            return replace(stopped, path=tuple(path))
        if found.station is not None:
            return _arrive(running, found, packet, path, because)
        switch = SwitchName(found.name)


def _arrive(running: Running, found: Member, packet: Packet, path: list[str], because: SettingId | Missing) -> Outcome:
    """What happens where the frame was sent to: a switch forwards, a station takes what is for itself."""
    if found.station is None:
        return _forward(running, SwitchName(found.name), packet, path)
    path.append(found.name)
    host: Host | None = running.host(found.station)
    if host is not None and host.address == packet.destination:
        return Delivered(found.name, tuple(path))
    return Dropped(found.name, Reason.NEXT_HOP_IS_A_HOST, because, tuple(path))


def _resolve(
    running: Running, asker: Member, own_address: int, address: int, because: SettingId | Missing
) -> Member | Dropped:
    """Who answers for the address (ARP): both the question and the answer pass the guards on their way."""
    owners = list(running.owners(asker.segment, address))
    if not owners:
        return Dropped(asker.name, Reason.NO_ANSWER, because)
    if len(owners) > 1:
        names = " and ".join(sorted(owner.name for owner in owners))
        return Dropped(asker.name, Reason.DUPLICATE_ADDRESS, SettingId(names, Part.STATION, str(IPv4Address(address))))
    owner = owners[0]
    if not running.guarded:
        return owner
    question = running.domain(asker.segment)[owner.segment]
    answer = running.domain(owner.segment)[asker.segment]
    for member, source, entered in ((asker, own_address, question), (owner, address, answer)):
        ports = entered if member.station is None else (member.station.at, *entered)
        for port in ports:
            dropped = guard.check_sender(running, port, member.mac, source)
            if dropped is not None:
                return dropped
    return owner


def _no_route(running: Running, switch: SwitchName, destination: int) -> SettingId | Missing:
    address = IPv4Address(destination)
    refused = running.tables[switch].refused_for(address)
    if refused is not None:
        return SettingId(switch, Part.ROUTE, refused.key, "next_hop")
    return Missing(switch, Part.ROUTE, str(address))


def _gateway_setting(running: Running, station: Station) -> SettingId:
    lease = running.leases.get(station.name)
    if lease is not None and running.network.server is not None:
        return SettingId(running.network.server.station, Part.POOL, lease.pool, "router")
    return SettingId(station.name, Part.STATION, station.name, "gateway")
