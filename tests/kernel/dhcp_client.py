"""DHCP clients on raw sockets, all of a lab in one loop, and switches that learn binding rows from what they see.

The clients start one after the other in the order listed, each when the one before has its lease or has had its turn.
A client asks whether anybody has its new address already (RFC 2131 4.4.1, RFC 5227 2.1) before it takes it, and
declines one that is in use. Later it renews its lease, first by unicast, then by broadcast (RFC 2131 4.4.5).
"""

import selectors
import socket
import struct
import time
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Interface
from typing import Any

from real_network import Lab, bind, inside, row_text, run_ip, station_address, unbind, widen

__all__ = ["Client", "Learner", "arp_frame", "ip_frame", "lease_all", "renew_all"]

DISCOVER, OFFER, REQUEST, DECLINE, ACK, NAK = 1, 2, 3, 4, 5, 6
BROADCAST = b"\xff" * 6
TURN_SECONDS = 0.08
"""So long a client has before the next one starts; a lease takes some 5 ms."""
RETRY_SECONDS = (0.4, 0.6, 1.2)
"""How long a client waits for an answer, the first time, the second, the third; then it has none."""
PROBE_SECONDS = 0.12
"""How long it listens whether somebody has its address."""
PING_SECONDS = 4
"""So long a server that asks whether an address is in use keeps everybody waiting."""
PING_TRIES = 2
"""So often a client asks such a server, which remembers for a while that nobody has the address."""
MOST_DECLINES = 12
RENEW_SECONDS = 0.7
"""How long a client listens for the answer to a renewal; a device asks 450 ms long for a neighbour (real_network)."""


@dataclass(slots=True)
class Client:
    """A station that asks for a lease, and what became of it."""

    name: str
    mac: bytes
    socket: socket.socket
    number: int
    tries: int = 0
    deadline: float = 0.0
    offered: bytes = b""
    server: bytes = b""
    lease: dict[str, Any] | None = None
    probing: bool = False
    is_done: bool = False
    declines: int = 0

    @property
    def transaction(self) -> bytes:
        """Its first half is the client's, so that an answer that comes late is known too."""
        return struct.pack("!HH", self.number + 1, self.tries)


class Learner:
    """A switch's eye on its ports: requests that come in, ACKs that go out, a row for every client it saw both of.

    Rows are learnt on access ports in a snooped VLAN that are not trusted (RFC 7513 6.4.2.1).
    """

    def __init__(self, lab: Lab, switch: str) -> None:
        self.lab, self.switch = lab, switch
        self.ports = {
            lab.ports[place]: place[1]
            for place in lab.access
            if place[0] == switch and place in lab.checked - lab.trusted
        }
        self.seen: set[tuple[str, bytes]] = set()
        self.rows: list[tuple[str, int, str, str]] = []
        with inside(lab.switches[switch]):
            self.socket = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(0x0003))
        widen(self.socket)
        self.socket.setblocking(False)

    def read(self) -> None:
        """Takes one frame from the wire."""
        frame, (interface, _, kind, *_) = self.socket.recvfrom(2000)
        message = dhcp_message(frame)
        if message is None or interface not in self.ports:
            return
        client = message[28:34]
        if message[0] == 1 and kind != socket.PACKET_OUTGOING:
            self.seen.add((interface, client))
            if dhcp_options(message).get(53) == bytes([DECLINE]):
                self._forget(interface, client, dhcp_options(message).get(50, bytes(4)))
        if message[0] == 2 and kind == socket.PACKET_OUTGOING and (interface, client) in self.seen:
            options = dhcp_options(message)
            if options.get(53) == bytes([ACK]):
                port = self.ports[interface]
                row = (port, self.lab.access[self.switch, port], client.hex(":"), str(IPv4Address(message[16:20])))
                if row not in self.rows:
                    self.rows.append(row)
                    bind(self.lab, self.switch, row_text(interface, *row[1:]))

    def _forget(self, interface: str, client: bytes, address: bytes) -> None:
        """The row of an address that its client declines goes."""
        port = self.ports[interface]
        row = (port, self.lab.access[self.switch, port], client.hex(":"), str(IPv4Address(address)))
        if row in self.rows:
            self.rows.remove(row)
            unbind(self.lab, self.switch, row_text(interface, *row[1:]))


def lease_all(lab: Lab, clients: list[Client], learners: list[Learner]) -> None:
    """Runs every client through the exchange; each then has a lease, with its station set up by it, or none."""
    selector = selectors.DefaultSelector()
    for client in clients:
        selector.register(client.socket, selectors.EVENT_READ, client)
    for learner in learners:
        selector.register(learner.socket, selectors.EVENT_READ, learner)
    waiting = list(clients)
    turn_ends = 0.0
    running: list[Client] = []
    while waiting or running:
        now = time.monotonic()
        is_turn_over = now >= turn_ends and not lab.server_pings  # a server that asks first serves one at a time
        if waiting and (is_turn_over or all(each.lease or each.is_done for each in running)):
            client = waiting.pop(0)
            running.append(client)
            turn_ends = now + TURN_SECONDS
            _discover(lab, client, now)
        events = selector.select(0.01)
        for key, _ in events:
            if isinstance(key.data, Learner):
                key.data.read()
            elif key.data in running:
                _hear(key.data)
            else:
                key.data.socket.recv(2000)
        if not events:  # what came in time has been read, however long this process was kept waiting
            now = time.monotonic()
            for client in running:
                if now >= client.deadline:
                    _time_out(lab, client, now)
            running = [client for client in running if not client.is_done]
    while events := selector.select(0.05):
        for key, _ in events:
            if isinstance(key.data, Learner):
                key.data.read()
            else:
                key.data.socket.recv(2000)
    selector.close()


def _discover(lab: Lab, client: Client, now: float) -> None:
    client.offered = client.server = b""
    client.deadline = now + (PING_SECONDS if lab.server_pings else RETRY_SECONDS[client.tries])
    client.tries += 1
    _send(client, DISCOVER, b"")


def _time_out(lab: Lab, client: Client, now: float) -> None:
    if client.probing and client.lease is not None and client.lease["duplicate"]:
        _send(client, DECLINE, b"\x32\x04" + client.offered + b"\x36\x04" + client.server)
        client.declines += 1
        client.lease, client.probing, client.tries = None, False, 0
        client.is_done = client.declines == MOST_DECLINES
        if not client.is_done:
            _discover(lab, client, now)
    elif client.probing and client.lease is not None:
        address = IPv4Interface(f"{client.lease['address']}/{client.lease['prefix-length']}")
        run_ip(lab, lab.stations[client.name], station_address(address, client.lease["router"]))
        client.is_done = True
    elif client.tries < (PING_TRIES if lab.server_pings else len(RETRY_SECONDS)):
        _discover(lab, client, now)
    else:
        client.is_done = True


def _hear(client: Client) -> None:
    """One frame: an offer is asked for, an ACK taken and probed, a NAK begun anew after."""
    frame = client.socket.recv(2000)
    if client.probing:
        if frame[12:14] == b"\x08\x06" and frame[28:32] == client.offered and frame[6:12] != client.mac:
            assert client.lease is not None
            client.lease["duplicate"] = True
        return
    message = dhcp_message(frame)
    if message is None or message[0] != 2 or message[4:6] != client.transaction[:2] or message[28:34] != client.mac:
        return
    options = dhcp_options(message)
    kind = options[53][0]
    if kind == OFFER and not client.offered:
        client.offered, client.server = message[16:20], options[54]
        _send(client, REQUEST, b"\x32\x04" + client.offered + b"\x36\x04" + client.server)
    elif kind == ACK and client.offered:
        client.offered = message[16:20]
        client.lease = {
            "address": str(IPv4Address(client.offered)),
            "prefix-length": int.from_bytes(options[1]).bit_count(),
            "router": str(IPv4Address(options[3][:4])) if 3 in options else None,
            "dns-server": str(IPv4Address(options[6][:4])) if 6 in options else None,
            "lease-time": int.from_bytes(options[51]),
            "server": str(IPv4Address(client.server)),
            "duplicate": False,
        }
        client.probing = True
        client.deadline = time.monotonic() + PROBE_SECONDS
        _put(client, arp_frame(client.mac, bytes(4), client.offered))
    elif kind == NAK:
        client.offered = b""
        client.deadline = time.monotonic()


def renew_all(lab: Lab, clients: list[Client]) -> dict[str, str]:
    """By the name of each client that has a lease: "renewed" by unicast, "rebound" by broadcast, or "lost"."""
    outcomes = {client.name: "lost" for client in clients if client.lease is not None}
    for outcome in ("renewed", "rebound"):
        asking = [client for client in clients if outcomes.get(client.name) == "lost"]
        for client in asking:
            client.tries += 1
            if outcome == "renewed":
                _renew(lab, client)
            else:
                _rebind(client)
        for name in _acknowledged(asking):
            outcomes[name] = outcome
    return outcomes


def _renewal(client: Client) -> bytes:
    """A request with the client's address and no server's (RFC 2131 4.3.2)."""
    assert client.lease is not None
    own = IPv4Address(client.lease["address"]).packed
    head = struct.pack("!4B4sHH", 1, 1, 6, 0, client.transaction, 0, 0) + own + bytes(12)
    return head + client.mac + bytes(10 + 64 + 128) + b"\x63\x82\x53\x63" + bytes([53, 1, REQUEST, 255])


def _renew(lab: Lab, client: Client) -> None:
    """Over the station's own kernel, which finds the way."""
    assert client.lease is not None
    with inside(lab.stations[client.name]):
        own = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    with own, suppress(OSError):  # it has no way there
        own.bind((client.lease["address"], 68))
        own.sendto(_renewal(client), (client.lease["server"], 67))


def _rebind(client: Client) -> None:
    assert client.lease is not None
    own = IPv4Address(client.lease["address"]).packed
    _put(client, ip_frame(client.mac, BROADCAST, own, b"\xff" * 4, 68, 67, _renewal(client)))


def _acknowledged(clients: list[Client]) -> set[str]:
    """The names of those that hear an ACK to what they asked last."""
    heard = set()
    with selectors.DefaultSelector() as selector:
        for client in clients:
            selector.register(client.socket, selectors.EVENT_READ, client)
        give_up = time.monotonic() + RENEW_SECONDS
        while clients and (left := give_up - time.monotonic()) > 0:
            for key, _ in selector.select(left):
                client = key.data
                frame = client.socket.recv(2000)
                message = dhcp_message(frame)
                if message is None or message[0] != 2 or message[4:8] != client.transaction:
                    continue
                if frame[:6] in (client.mac, BROADCAST) and dhcp_options(message).get(53) == bytes([ACK]):
                    heard.add(client.name)
    return heard


def _send(client: Client, kind: int, more: bytes) -> None:
    """A client message; it asks for its answers by broadcast (RFC 2131 section 2, flags)."""
    options = b"\x63\x82\x53\x63" + bytes([53, 1, kind]) + more + b"\x37\x03\x01\x03\x06\xff"
    head = struct.pack("!4B4sHH", 1, 1, 6, 0, client.transaction, 0, 0x8000) + bytes(16)
    message = head + client.mac + bytes(10 + 64 + 128) + options
    _put(client, ip_frame(client.mac, BROADCAST, bytes(4), b"\xff" * 4, 68, 67, message))


def _put(client: Client, frame: bytes) -> None:
    with suppress(OSError):  # a card without a cable: nothing leaves it
        client.socket.send(frame)


def arp_frame(own_mac: bytes, own_address: bytes, asked: bytes) -> bytes:
    """Who has the address? (RFC 826); from 0.0.0.0 it is a probe (RFC 5227 1.1)."""
    question = struct.pack("!HHBBH", 1, 0x0800, 6, 4, 1) + own_mac + own_address + bytes(6) + asked
    return BROADCAST + own_mac + b"\x08\x06" + question


def ip_frame(
    source_mac: bytes, target_mac: bytes, source: bytes, target: bytes, from_port: int, to_port: int, payload: bytes
) -> bytes:
    """A UDP datagram in a frame (RFC 791, RFC 768; no UDP checksum, which IPv4 allows)."""
    udp = struct.pack("!HHHH", from_port, to_port, 8 + len(payload), 0) + payload
    head = struct.pack("!BBHHHBBH4s4s", 0x45, 0, 20 + len(udp), 0, 0, 64, 17, 0, source, target)
    total = sum(struct.unpack("!10H", head))
    total = (total & 0xFFFF) + (total >> 16)
    total = (total & 0xFFFF) + (total >> 16)
    head = head[:10] + struct.pack("!H", total ^ 0xFFFF) + head[12:]
    return target_mac + source_mac + b"\x08\x00" + head + udp


def dhcp_message(frame: bytes) -> bytes | None:
    """The DHCP message in a frame, without the headers before it."""
    if len(frame) < 42 + 240 or frame[12:14] != b"\x08\x00" or frame[23] != 17:
        return None
    udp = 14 + (frame[14] & 15) * 4
    if int.from_bytes(frame[udp + 2 : udp + 4]) not in (67, 68):
        return None
    return frame[udp + 8 :]


def dhcp_options(message: bytes) -> dict[int, bytes]:
    """Options by their code (RFC 2132)."""
    options: dict[int, bytes] = {}
    place = 240
    while place < len(message) and message[place] != 255:
        code = message[place]
        if code == 0:
            place += 1
            continue
        length = message[place + 1]
        options[code] = message[place + 2 : place + 2 + length]
        place += 2 + length
    return options
