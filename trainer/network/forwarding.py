"""A packet's way, device by device, until it is delivered or dropped (RFC 1122 3.3.1, RFC 1812 5.2).

Where a device sends packets for an address is worked out once and remembered (Running.memory), as a router's cache
does, and so is how they go from a switch on: of the paths through fifty switches each is the next one's and one step more.
While somebody listens nothing is remembered and packets go step by step (`_walked`): that is what all the rest has to agree
with, and tests compare them.
"""

from collections.abc import Iterable, Sequence

from trainer.network import causes, guard, snooping, steps
from trainer.network.addresses import Mac, dotted, is_no_host, is_reserved, mask_bits
from trainer.network.devices import Missing, Part, SettingId, Station, SwitchName
from trainer.network.packets import INITIAL_TTL, Delivered, Dropped, Outcome, Packet, Payload, Reason
from trainer.network.paths import ForwardingPath, Ingress, Member, NextHop, Segment
from trainer.network.topology import Host, Running

__all__ = ["enter", "own_to_host", "send_from_station", "send_from_switch", "send_own"]


def send_from_station(running: Running, station: Station, packet: Packet) -> Outcome:
    """The packet's fate when the station sends it.

    The station resolves addresses (ARP) as itself; the packet may carry another source, as a forged one does.
    """
    sent = station.name, packet
    known = running.memory.fates.get(sent)
    if known is None:
        known = running.memory.keep(running.memory.fates, sent, _sent(running, station, packet))
    return known


def _sent(running: Running, station: Station, packet: Packet) -> Outcome:
    running.note(steps.sending, station, packet)
    hop = _uplink(running, station, packet)
    return hop if isinstance(hop, Dropped) else _arrive(running, hop, packet, [station.name])


def send_own(running: Running, station: Station, destination: int) -> Outcome:
    """The fate of data that the station sends from its own address and MAC.

    The way to its gateway is the same for all of it; from there on it goes as everybody's packets for that address do. Without
    an address nothing is sent, whatever it is for.
    """
    sent = station.name, 0 if running.host(station) is None else destination
    known = running.memory.own_fates.get(sent)
    if known is None:
        known = running.memory.keep(running.memory.own_fates, sent, _own_sent(running, station, destination))
    return known


def _own_sent(running: Running, station: Station, destination: int) -> Outcome:
    host = running.host(station)
    packet = Packet(0 if host is None else host.address, destination, station.mac)
    hop = None if host is None or is_reserved(destination) else _own_uplink(running, station, host, destination)
    if hop is None:
        return send_from_station(running, station, packet)
    return hop if isinstance(hop, Dropped) else _arrive(running, hop, packet, [station.name])


def own_to_host(running: Running, station: Station, host: Host, destination: int, at: str) -> Outcome | None:
    """The fate of a station's own data for an address that a host has; None where it gets to the device that is meant.

    As send_own tells, but most of what is tried arrives, and nothing has to be made for that. host: the station's own; at: whose
    the address is.
    """
    hop = _own_uplink(running, station, host, destination)
    if isinstance(hop, Dropped):
        return hop
    if hop is not None and hop.to.station is None:
        onward = _path_on(running, SwitchName(hop.to.name), destination)
        if onward.end.at == at and not onward.guarded and isinstance(onward.end, Delivered):
            return None
    return send_own(running, station, destination)


def _own_uplink(running: Running, station: Station, host: Host, destination: int) -> NextHop | Dropped | None:
    """How the station's own packets get to its gateway, or what stops them before; None where they go another way, and while
    every step has to be made.
    """
    if running.is_observed or not (destination ^ host.address) & host.mask:
        return None
    hop = running.memory.uplinks.get(station.name)
    if hop is None:
        hop = _uplink(running, station, Packet(host.address, destination, station.mac))
        running.memory.keep(running.memory.uplinks, station.name, hop)
    return hop


def _uplink(running: Running, station: Station, packet: Packet) -> NextHop | Dropped:
    """To whom the station hands a packet, through all that looks at it on its way there; or what stops it, with the path."""
    hop = _first_hop(running, station, packet.destination)
    if isinstance(hop, Dropped):
        return _stopped(running, hop, [station.name])
    ingress = running.ingress(station)
    assert ingress is not None, "a station without a port has no next hop"
    dropped = _check(running, (ingress, *hop.entered), packet, packet.source_mac)
    return hop if dropped is None else _stopped(running, dropped, [station.name])


def send_from_switch(running: Running, switch: SwitchName, packet: Packet) -> Outcome:
    """The packet's fate when a switch sends it itself, as a relay agent does."""
    return _forward(running, switch, packet, [])


def enter(running: Running, own: Ingress | None, segment: Segment, target: Segment, packet: Packet) -> Dropped | None:
    """Takes a frame from a segment to another of its broadcast domain through the checks of every port it enters.

    own: the sender's own port, None where a switch sends. None: the frame arrives.
    """
    entered = running.domain(segment)[target]
    return _check(running, entered if own is None else (own, *entered), packet, packet.source_mac)


def _check(running: Running, entered: Iterable[Ingress], packet: Packet, source_mac: Mac) -> Dropped | None:
    is_reply = packet.payload is Payload.DHCP_REPLY
    for ingress in entered:
        dropped = snooping.check(running, ingress, packet) if is_reply else None
        if dropped is None and ingress.is_guarded:
            dropped = guard.check(running, ingress, packet, source_mac)
        if dropped is not None:
            return dropped
    return None


def _first_hop(running: Running, station: Station, destination: int) -> NextHop | Dropped:
    """To whom a station sends: next door inside its own network, else to its gateway (RFC 1122 3.3.1.1)."""
    name, host, ingress = station.name, running.host(station), running.ingress(station)
    if host is None:
        return Dropped(name, Reason.NO_ADDRESS, causes.no_address(running, station))
    if ingress is None:
        return Dropped(name, Reason.PORT_DOWN, causes.port_setting(running, station))
    if is_reserved(destination):
        return Dropped(name, Reason.NOT_A_HOST, causes.address_of(running, station))
    is_near = not (destination ^ host.address) & host.mask
    if is_near and is_no_host(destination, host.mask):
        return Dropped(name, Reason.NOT_A_HOST, causes.mask_of(running, station))
    if not is_near:
        if host.gateway is None:
            return Dropped(name, Reason.NO_GATEWAY, causes.no_gateway(running, station))
        if (host.gateway ^ host.address) & host.mask:
            cause = causes.gateway_elsewhere(running, station, ingress.segment)
            return Dropped(name, Reason.GATEWAY_ELSEWHERE, cause)
        return _gateway(running, station, ingress, host.address, host.gateway)
    asker = Member(name, ingress.segment, station.mac, station=station)
    because = Missing(name, Part.STATION, dotted(destination))
    return _resolved(running, asker, host.address, destination, because)


def _gateway(running: Running, station: Station, ingress: Ingress, own_address: int, gateway: int) -> NextHop | Dropped:
    """To whom a station hands all that is not for its own network: the same whatever the destination."""
    hop = running.memory.gateways.get(station.name)
    if hop is None:
        asker = Member(station.name, ingress.segment, station.mac, station=station)
        hop = _resolved(running, asker, own_address, gateway, causes.gateway_of(running, station))
        running.memory.keep(running.memory.gateways, station.name, hop)
    return hop


def _forward(running: Running, switch: SwitchName, packet: Packet, path: list[str]) -> Outcome:
    """Hands the packet on, switch by switch. Snooping looks at a server's messages on every port, so they go step by step."""
    if running.is_observed or packet.payload is Payload.DHCP_REPLY:
        return _walked(running, switch, packet, path)
    onward = _path_on(running, switch, packet.destination)
    end = onward.end
    for passed, hop in onward.guarded:
        dropped = _check(running, hop.entered, packet, hop.source_mac)
        if dropped is not None:
            return _stopped(running, dropped, [*path, *end.path[:passed]])
    return _behind_devices(path, end)


def _behind_devices(path: Sequence[str], end: Outcome) -> Outcome:
    """The same end, with the devices that were passed before it."""
    if isinstance(end, Dropped):
        return Dropped(end.at, end.reason, end.because, (*path, *end.path))
    return Delivered(end.at, (*path, *end.path))


def _path_on(running: Running, switch: SwitchName, destination: int) -> ForwardingPath:
    """How packets for an address go from a switch on."""
    return running.memory.paths.get((switch, destination)) or _found_path(running, switch, destination)


def _found_path(running: Running, switch: SwitchName, destination: int) -> ForwardingPath:
    """As they go from the next switch, with one step before it."""
    begun: list[tuple[SwitchName, NextHop]] = []
    here, onward = switch, None
    while onward is None and len(begun) < INITIAL_TTL:
        onward = running.memory.paths.get((here, destination)) or _last_step(running, here, destination)
        if onward is None:
            hop = _next_hop(running, here, destination)
            assert isinstance(hop, NextHop), "else it was the last step"
            begun.append((here, hop))
            here = SwitchName(hop.to.name)
    if onward is None or len(begun) + onward.handed_on >= INITIAL_TTL:
        return running.memory.keep_path(switch, destination, _expiring(running, switch, destination))
    running.memory.keep_path(here, destination, onward)
    for before, hop in reversed(begun):
        onward = running.memory.keep_path(before, destination, _behind(before, hop, onward))
    return onward


def _last_step(running: Running, switch: SwitchName, destination: int) -> ForwardingPath | None:
    """The path where it ends at this switch, or at a station next door; None where another switch is next."""
    if destination in running.own_addresses[switch]:
        return ForwardingPath(Delivered(switch, (switch,)), handed_on=0)
    hop = _next_hop(running, switch, destination)
    if isinstance(hop, Dropped):
        return ForwardingPath(Dropped(hop.at, hop.reason, hop.because, (switch,)), handed_on=0)
    station = hop.to.station
    if station is None:
        return None
    path = (switch, station.name)
    host, end = running.host(station), Dropped(station.name, Reason.NEXT_HOP_IS_A_HOST, hop.because, path)
    is_own = host is not None and host.address == destination
    return ForwardingPath(Delivered(station.name, path) if is_own else end, 1, ((1, hop),) if hop.is_guarded else ())


def _behind(switch: SwitchName, hop: NextHop, onward: ForwardingPath) -> ForwardingPath:
    """The path from a switch whose next hop is the one where the given path begins."""
    guarded = tuple((passed + 1, each) for passed, each in onward.guarded)
    if hop.is_guarded:
        guarded = ((1, hop), *guarded)
    return ForwardingPath(_behind_devices((switch,), onward.end), onward.handed_on + 1, guarded)


def _expiring(running: Running, switch: SwitchName, destination: int) -> ForwardingPath:
    """The path where time to live is used up on it. It is counted from its own first switch, so it is no part of others."""
    path = [switch]
    guarded: list[tuple[int, NextHop]] = []
    while True:
        hop = _next_hop(running, path[-1], destination)
        assert isinstance(hop, NextHop), "else it would end before"
        if len(path) == INITIAL_TTL:
            return ForwardingPath(
                Dropped(path[-1], Reason.TTL_EXPIRED, hop.because, tuple(path)), INITIAL_TTL, tuple(guarded)
            )
        if hop.is_guarded:
            guarded.append((len(path), hop))
        path.append(SwitchName(hop.to.name))


def _next_hop(running: Running, switch: SwitchName, destination: int) -> NextHop | Dropped:
    """To whom a switch hands packets for an address that is not its own."""
    hop = running.memory.hops.get((switch, destination))
    if hop is None:
        hop = _hop_of_switch(running, switch, destination)
        running.memory.keep(running.memory.hops, (switch, destination), hop)
    return hop


def _walked(running: Running, switch: SwitchName, packet: Packet, path: list[str]) -> Outcome:
    """Hands the packet on, switch by switch; the one that takes the last of its time to live drops it (RFC 1812 5.3.1)."""
    time_to_live = INITIAL_TTL
    destination = packet.destination
    while True:
        path.append(switch)
        if destination in running.own_addresses[switch]:
            running.note(steps.arrival, switch, destination)
            return Delivered(switch, tuple(path))
        hop = _next_hop(running, switch, destination)
        if isinstance(hop, Dropped):
            return _stopped(running, hop, path)
        time_to_live -= 1
        if not time_to_live:
            return _stopped(running, Dropped(switch, Reason.TTL_EXPIRED, hop.because), path)
        if hop.entered:
            dropped = _check(running, hop.entered, packet, hop.source_mac)
            if dropped is not None:
                return _stopped(running, dropped, path)
        if hop.to.station is not None:
            return _arrive(running, hop, packet, path)
        switch = SwitchName(hop.to.name)


def _hop_of_switch(running: Running, switch: SwitchName, destination: int) -> NextHop | Dropped:
    """To whom a switch hands a packet, by its routing table and by who answers."""
    entry = running.tables[switch].lookup(destination)
    if running.is_observed:
        running.note(steps.route, switch, destination, entry)
    if entry is None:
        return Dropped(switch, Reason.NO_ROUTE, causes.no_route(running, switch, destination))
    because = entry.because
    interface = entry.interface
    next_hop = entry.next_hop
    if is_reserved(destination) or (next_hop is None and is_no_host(destination, mask_bits(interface.prefix_length))):
        return Dropped(switch, Reason.NOT_A_HOST, causes.whose_address(running, destination) or because)
    known = None if next_hop is None else running.memory.neighbours.get((switch, next_hop, because))
    if known is not None:
        return known
    asker = Member(switch, (switch, interface.place), running.compiled[switch].mac, interface=interface)
    if next_hop is None:
        return _resolved(running, asker, int(interface.address), destination, because)
    hop = _resolved(running, asker, int(interface.address), next_hop, because)
    running.memory.keep(running.memory.neighbours, (switch, next_hop, because), hop)
    return hop


def _arrive(running: Running, hop: NextHop, packet: Packet, path: list[str]) -> Outcome:
    """What happens where the frame was sent to: a switch forwards, a station takes what is for itself."""
    found = hop.to
    if found.station is None and is_reserved(packet.source):
        cause = Missing(found.name, Part.STATION, dotted(packet.source), "address")
        return _stopped(running, Dropped(found.name, Reason.SOURCE_NOT_A_HOST, cause), [*path, found.name])
    if found.station is None:
        return _forward(running, SwitchName(found.name), packet, path)
    path.append(found.name)
    host = running.host(found.station)
    if host is not None and host.address == packet.destination:
        running.note(steps.arrival, found.name, packet.destination)
        return Delivered(found.name, tuple(path))
    return _stopped(running, Dropped(found.name, Reason.NEXT_HOP_IS_A_HOST, hop.because), path)


def _resolved(
    running: Running, asker: Member, own_address: int, address: int, because: SettingId | Missing
) -> NextHop | Dropped:
    """Who answers for the address (ARP): both the question and the answer pass the guards on their way."""
    owners = running.owners(asker.segment, address)
    if running.is_observed:
        running.note(steps.neighbour, asker, address, owners, because)
    if not owners:
        return Dropped(asker.name, Reason.NO_ANSWER, causes.no_neighbour(running, asker, address, because))
    if len(owners) > 1:
        return Dropped(asker.name, Reason.DUPLICATE_ADDRESS, causes.address_in_use(running, owners))
    owner = owners[0]
    question = running.domain(asker.segment)[owner.segment]
    if running.is_guarded:
        answer = running.domain(owner.segment)[asker.segment]
        for member, source, entered in ((asker, own_address, question), (owner, address, answer)):
            own = None if member.station is None else running.ingress(member.station)
            for ingress in entered if own is None else (own, *entered):
                dropped = guard.check_sender(running, ingress, member.mac, source) if ingress.is_guarded else None
                if dropped is not None:
                    return dropped
    return NextHop(owner, question, asker.mac, because)


def _stopped(running: Running, dropped: Dropped, path: list[str]) -> Dropped:
    """The drop with the way that led to it."""
    running.note(steps.end_of_packet, dropped)
    return Dropped(dropped.at, dropped.reason, dropped.because, tuple(path))
