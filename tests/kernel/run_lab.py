"""One lab, built and tried: reads a job from standard input as JSON, prints what was measured as JSON.

Job: {"configuration": {...}, "trials": [{"kind", "from", ...}], "is_patient": false}; kinds below. It is to run as the first
process of namespaces of its own (measuring.py starts it so), which take everything with them when it ends.

| kind | fields | measured |
|---|---|---|
| ping | from, to (stations) | "answered", "arrived" (the request, but no answer came back), "lost" |
| reach | from (station), address | "answered", "lost" |
| renew | from (station) | "renewed" (by unicast), "rebound" (by broadcast), "lost" |
| rogue | from, to (stations) | did the OFFER arrive: {"protected", "control"}; control: snooping off |
| rogue-on-link | from, to ({"switch", "port"}, both ends of a link) | did the switch let the OFFER in: {"protected"} |
| forge | from, to, and address_of or mac_of (stations) | did it arrive: {"protected", "control"}; control: guard off |

What devices count while stations ask for their leases and ping ("counted"): the stations that the server heard and those that it
made an offer to, and by switch the ports on which "snooping" and "guard" dropped something. Renewals and attacks come later.
is_patient: pings without an answer are made again until no sender sees an error more; a kernel tells one a second.
Of pings it is measured too what error message their sender sees, and from which address ("heard"), and which addresses
tell a sender any, be it about its answers ("told").
"""

import json
import selectors
import socket
import struct
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv4Interface
from typing import Any

from dhcp_client import BROADCAST, Client, Learner, arp_frame, dhcp_message, ip_frame, lease_all, renew_all
from real_network import OWN, Lab, build, dropped, forget_neighbours, inside, offered, switch_off, widen

QUIET_SECONDS = 0.25
"""A round is over when nothing has come in for so long while somebody listened."""
RESOLVE_SECONDS = 0.5
"""After so long a kernel has given up a question that was not answered (three times 150 ms, real_network), and asks anew."""
ERROR_SECONDS = 1.1
"""After so long a kernel tells a sender one more error (net.ipv4.route.error_cost)."""
UNREACHABLE, TIME_EXCEEDED = 3, 11
ECHO_ID = 0x4C41
ROGUE_ON_LINK = bytes.fromhex("02cc00000001")
"""The MAC of a device that is plugged into a link."""
Trial = dict[str, Any]


class Stations:
    """The stations of a lab: their MACs, addresses and sockets."""

    def __init__(self, lab: Lab, configuration: dict[str, Any]) -> None:
        self.lab = lab
        self.macs: dict[str, bytes] = {}
        self.addresses: dict[str, IPv4Interface] = {}
        self.gateways: dict[str, IPv4Address] = {}
        self.clients: list[str] = []
        self.leased: list[Client] = []
        for station in configuration[f"{OWN}:network"]["station"]:
            name = station["name"]
            card = station["ietf-interfaces:interfaces"]["interface"][0]
            self.macs[name] = bytes.fromhex(card[f"{OWN}:mac-address"].replace(":", ""))
            if "ietf-ip:ipv4" in card:
                address = card["ietf-ip:ipv4"]["address"][0]
                self.addresses[name] = IPv4Interface(f"{address['ip']}/{address['prefix-length']}")
                protocols = station["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"]
                for protocol in protocols:
                    route = protocol["static-routes"]["ietf-ipv4-unicast-routing:ipv4"]["route"][0]
                    self.gateways[name] = IPv4Address(route["next-hop"]["next-hop-address"])
            elif card[f"{OWN}:dhcp-client"]:
                self.clients.append(name)

    def wire(self, name: str) -> socket.socket:
        """A socket for whole frames on the station's card."""
        return _wire(self.lab.stations[name], "eth0")

    def names(self, macs: set[bytes]) -> list[str]:
        """The stations with these MACs."""
        return [name for name, mac in self.macs.items() if mac in macs]

    def echo(self, name: str) -> socket.socket:
        """A socket for ICMP, which sees requests as well as replies."""
        with inside(self.lab.stations[name]):
            echo = socket.socket(socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_ICMP)
        widen(echo)
        echo.setblocking(False)
        return echo

    def renew(self) -> dict[str, str]:
        """What became of every client's wish to keep its lease."""
        outcomes = renew_all(self.lab, self.leased)
        for client in self.leased:
            client.socket.close()
        return outcomes

    def lease(self) -> tuple[dict[str, Any], dict[str, list[Any]]]:
        """Every client's lease or None, and the rows that each switch learnt."""
        learners = [Learner(self.lab, switch) for switch in self.lab.switches]
        clients = [
            Client(name=name, mac=self.macs[name], socket=self.wire(name), number=number)
            for number, name in enumerate(self.clients)
        ]
        lease_all(self.lab, clients, learners)
        leases = {}
        self.leased = clients
        for client in clients:
            leases[client.name] = client.lease
            if client.lease is not None:
                self.addresses[client.name] = IPv4Interface(
                    f"{client.lease['address']}/{client.lease['prefix-length']}"
                )
                if client.lease["router"] is not None:
                    self.gateways[client.name] = IPv4Address(client.lease["router"])
        for learner in learners:
            learner.socket.close()
        return leases, {learner.switch: learner.rows for learner in learners}


def _wire(namespace: str, interface: str) -> socket.socket:
    with inside(namespace):
        wire = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(0x0003))
        wire.bind((interface, 0x0003))
    widen(wire)
    wire.setblocking(False)
    return wire


def _heard(ear: socket.socket) -> set[bytes]:
    """The MACs of all whose requests have come in at the server's card; a relay agent's are its client's."""
    macs = set()
    with suppress(BlockingIOError):
        while True:
            frame, (_, _, kind, *_) = ear.recvfrom(2000)
            message = dhcp_message(frame)
            if message is not None and message[0] == 1 and kind != socket.PACKET_OUTGOING:
                macs.add(message[28:34])
    return macs


def run(job: dict[str, Any]) -> dict[str, Any]:
    """Builds the lab of the job and makes its trials."""
    began = time.monotonic()
    lab = build(job["configuration"])
    built = time.monotonic()
    stations = Stations(lab, job["configuration"])
    server = job["configuration"][f"{OWN}:network"].get("dhcp-server", {}).get("station", "")
    ear = stations.wire(server) if server in lab.stations else None
    leases, rows = stations.lease()
    leased = time.monotonic()
    trials: list[Trial] = job["trials"]
    outcomes: list[Any] = [None] * len(trials)
    pings = {number: trial for number, trial in enumerate(trials) if trial["kind"] in ("ping", "reach")}
    echoes = _ping_all(stations, pings, is_patient=job.get("is_patient", False))
    for number, outcome in echoes.outcomes.items():
        outcomes[number] = outcome
    counted = {
        "heard": [] if ear is None else stations.names(_heard(ear)),
        "offered": stations.names(offered(lab, server)) if server in lab.stations else [],
        **{protection: dropped(lab, protection) for protection in ("snooping", "guard")},
    }
    pinged = time.monotonic()
    renewals = stations.renew()
    for number, trial in enumerate(trials):
        if trial["kind"] == "renew":
            outcomes[number] = renewals.get(trial["from"], "lost")
    renewed = time.monotonic()
    attacks = {number: trial for number, trial in enumerate(trials) if trial["kind"] in ("rogue", "forge")}
    wires = {name: stations.wire(name) for name in {trial[end] for trial in attacks.values() for end in ("from", "to")}}
    for number in attacks:
        outcomes[number] = {}
    for stage, protection, kinds in (
        ("protected", "", ("rogue", "forge")),
        ("control", "snooping", ("rogue",)),
        ("control", "guard", ("forge",)),
    ):
        tried = {number: trial for number, trial in attacks.items() if trial["kind"] in kinds}
        if protection and tried:
            switch_off(lab, protection)
            time.sleep(RESOLVE_SECONDS)
        arrived = _attack(stations, wires, tried)
        for number in tried:
            outcomes[number][stage] = number in arrived
        if stage == "protected":
            for number, trial in enumerate(trials):
                if trial["kind"] == "rogue-on-link":
                    outcomes[number] = {stage: _is_let_in(lab, trial)}
    forget_neighbours(lab)
    ended = time.monotonic()
    return {
        "leases": leases,
        "rows": rows,
        "counted": counted,
        "trials": outcomes,
        "server-pings": lab.server_pings,
        "heard": [echoes.errors.get(number) for number in range(len(trials))],
        "told": sorted(echoes.told),
        "refused": lab.refused,
        "seconds": {
            "build": round(built - began, 3),
            "lease": round(leased - built, 3),
            "ping": round(pinged - leased, 3),
            "renew": round(renewed - pinged, 3),
            "attack": round(ended - renewed, 3),
        },
    }


# --- Pings ------------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class Echoes:
    """What comes of pings, by their numbers."""

    outcomes: dict[int, str]
    errors: dict[int, tuple[int, int, str]] = field(default_factory=dict)
    """Type and code of the error message that the sender sees, and the address that it comes from."""
    told: set[tuple[str, str]] = field(default_factory=set)
    """Stations that see any error, about what they ask or what they answer, and the address that it comes from."""


def _ping_all(stations: Stations, pings: dict[int, Trial], *, is_patient: bool) -> Echoes:
    """All at once; those without an answer again, until nothing new comes of it: one may be lost on a busy machine."""
    names = {name for trial in pings.values() for name in (trial["from"], trial.get("to")) if name is not None}
    sockets = {name: stations.echo(name) for name in sorted(names)}
    echoes = Echoes(dict.fromkeys(pings, "lost"))
    before: tuple[dict[int, str], set[int]] | None = None
    while before != (echoes.outcomes, set(echoes.errors) if is_patient else set()):
        before = dict(echoes.outcomes), set(echoes.errors) if is_patient else set()
        unanswered = {number: trial for number, trial in pings.items() if before[0][number] != "answered"}
        if is_patient:
            unanswered = {number: trial for number, trial in unanswered.items() if number not in echoes.errors}
            time.sleep(ERROR_SECONDS)
        if unanswered:
            _ping_round(stations, sockets, unanswered, echoes)
    for each in sockets.values():
        each.close()
    return echoes


def _ping_round(stations: Stations, sockets: dict[str, socket.socket], pings: dict[int, Trial], echoes: Echoes) -> None:
    selector = selectors.DefaultSelector()
    for name, each in sockets.items():
        selector.register(each, selectors.EVENT_READ, name)

    def hear(seconds: float) -> bool:
        events = selector.select(seconds)
        for key, _ in events:
            _hear_echo(stations, key.data, sockets[key.data], pings, echoes)
        return bool(events)

    for number, trial in pings.items():
        target = trial["address"] if "address" in trial else stations.addresses.get(trial["to"])
        if trial["from"] in stations.addresses and target is not None:
            address = target if isinstance(target, str) else str(target.ip)
            with suppress(OSError):  # the station's own kernel knows no way there
                sockets[trial["from"]].sendto(_echo_request(number), (address, 0))
        while hear(0):
            pass
    while any(echoes.outcomes[number] != "answered" for number in pings) and hear(RESOLVE_SECONDS + QUIET_SECONDS):
        pass
    selector.close()


def _echo_request(number: int) -> bytes:
    """RFC 792, with the number of the trial as its sequence number."""
    total = 0x0800 + ECHO_ID + number
    while total > 0xFFFF:
        total = (total & 0xFFFF) + (total >> 16)
    return struct.pack("!BBHHH", 8, 0, total ^ 0xFFFF, ECHO_ID, number)


def _hear_echo(stations: Stations, name: str, ear: socket.socket, pings: dict[int, Trial], echoes: Echoes) -> None:
    """One packet at a station: its trial is answered there, or has arrived there, or somebody tells what stopped it."""
    packet, (source, _) = ear.recvfrom(2000)
    kind, code = packet[20:22]
    echo = packet[28 + (packet[28] & 15) * 4 :] if kind in (UNREACHABLE, TIME_EXCEEDED) else packet[20:]
    _, _, _, ident, number = struct.unpack("!BBHHH", echo[:8])
    trial = pings.get(number)
    if trial is None or ident != ECHO_ID:
        return
    if kind == 0 and name == trial["from"]:
        asked = trial["address"] if "address" in trial else str(stations.addresses[trial["to"]].ip)
        if source == asked:
            echoes.outcomes[number] = "answered"
    elif kind == 8 and name == trial.get("to") and echoes.outcomes[number] == "lost":
        echoes.outcomes[number] = "arrived"
    elif kind in (UNREACHABLE, TIME_EXCEEDED):
        echoes.told.add((name, source))
        if name == trial["from"] and echo[0] == 8:
            echoes.errors[number] = kind, code, source


# --- Attacks ----------------------------------------------------------------------------------------------------------


def _attack(stations: Stations, wires: dict[str, socket.socket], attacks: dict[int, Trial]) -> set[int]:
    """Sends the false frames of all these trials; gives those that arrive at their targets' cards."""
    if not attacks:
        return set()
    neighbours = _neighbours(stations, wires, [trial for trial in attacks.values() if trial["kind"] == "forge"])
    for number, trial in attacks.items():
        frame = _false_frame(stations, number, trial, neighbours)
        if frame is not None:
            _put(wires[trial["from"]], frame)
    arrived = set()
    for name, frame, kind in _frames(wires):
        number = _attack_number(frame)
        wanted = attacks.get(number, {"to": None, "kind": None})
        card_kind = socket.PACKET_HOST if wanted["kind"] == "forge" else socket.PACKET_BROADCAST
        if wanted["to"] == name and kind == card_kind:
            arrived.add(number)
    return arrived


def _put(wire: socket.socket, frame: bytes) -> None:
    with suppress(OSError):  # a card without a cable: nothing leaves it
        wire.send(frame)


def _frames(wires: dict[str, socket.socket]) -> Any:
    """Station, frame and kind of everything that is seen until it has been quiet."""
    selector = selectors.DefaultSelector()
    for name, wire in wires.items():
        selector.register(wire, selectors.EVENT_READ, name)
    while events := selector.select(QUIET_SECONDS):
        for key, _ in events:
            frame, (_, _, kind, *_) = wires[key.data].recvfrom(2000)
            yield key.data, frame, kind
    selector.close()


def _neighbours(
    stations: Stations, wires: dict[str, socket.socket], forgeries: list[Trial]
) -> dict[tuple[str, IPv4Address], bytes]:
    """The MACs that answer for the first hops of forged packets; each station asks as itself (ARP, RFC 826)."""
    wanted = {(trial["from"], hop) for trial in forgeries if (hop := _first_hop(stations, trial)) is not None}
    for name, hop in sorted(wanted):
        own = stations.addresses[name].ip
        _put(wires[name], arp_frame(stations.macs[name], own.packed, hop.packed))
    found: dict[tuple[str, IPv4Address], bytes] = {}
    for name, frame, kind in _frames(wires) if wanted else ():
        if frame[12:14] == b"\x08\x06" and frame[20:22] == b"\x00\x02" and kind == socket.PACKET_HOST:
            found.setdefault((name, IPv4Address(frame[28:32])), frame[22:28])
    return found


def _first_hop(stations: Stations, trial: Trial) -> IPv4Address | None:
    """Where a station sends a packet for the target first: to it, or to the gateway, if that is on its own network."""
    own, target = stations.addresses.get(trial["from"]), stations.addresses.get(trial["to"])
    if own is None or target is None:
        return None
    hop = target.ip if target.ip in own.network else stations.gateways.get(trial["from"])
    return hop if hop is not None and hop in own.network else None


def _false_frame(
    stations: Stations, number: int, trial: Trial, neighbours: dict[tuple[str, IPv4Address], bytes]
) -> bytes | None:
    """The frame of an attack; None where the station cannot even send it."""
    own, mac = stations.addresses.get(trial["from"]), stations.macs[trial["from"]]
    if own is None:
        return None
    mark = struct.pack("!8sI", b"attack\0\0", number)
    if trial["kind"] == "rogue":
        victim = stations.macs[trial["to"]]
        offer = struct.pack("!4BIHH", 2, 1, 6, 0, number, 0, 0x8000) + bytes(16) + victim + bytes(10)
        offer += mark.ljust(64 + 128, b"\0") + b"\x63\x82\x53\x63\x35\x01\x02\xff"
        return ip_frame(mac, BROADCAST, own.ip.packed, b"\xff" * 4, 67, 68, offer)
    hop = _first_hop(stations, trial)
    target = stations.addresses.get(trial["to"])
    next_mac = None if hop is None else neighbours.get((trial["from"], hop))
    if target is None or next_mac is None:
        return None
    source = own
    if "address_of" in trial:
        source = stations.addresses.get(trial["address_of"], IPv4Interface("0.0.0.0"))
    if "mac_of" in trial:
        mac = stations.macs[trial["mac_of"]]
    return ip_frame(mac, next_mac, source.ip.packed, target.ip.packed, 9, 9, mark)


def _is_let_in(lab: Lab, trial: Trial) -> bool:
    """Whether an OFFER that is put onto a link, as by a device that was plugged in there, passes the filter of the switch at its
    end.
    """
    here, there = ((trial[end]["switch"], trial[end]["port"]) for end in ("from", "to"))
    if there not in lab.bridges or here not in lab.ports:
        return False
    cable, inside_switch = (
        _wire(lab.switches[here[0]], lab.ports[here]),
        _wire(lab.switches[there[0]], lab.bridges[there]),
    )
    offer = struct.pack("!4BIHH", 2, 1, 6, 0, 0, 0, 0x8000) + bytes(16) + ROGUE_ON_LINK + bytes(10)
    offer += struct.pack("!8sI", b"attack\0\0", 0).ljust(64 + 128, b"\0") + b"\x63\x82\x53\x63\x35\x01\x02\xff"
    _put(cable, ip_frame(ROGUE_ON_LINK, BROADCAST, bytes(4), b"\xff" * 4, 67, 68, offer))
    is_in = any(_attack_number(frame) == 0 for _, frame, _ in _frames({"": inside_switch}))
    cable.close()
    inside_switch.close()
    return is_in


def _attack_number(frame: bytes) -> int:
    """The trial that a false frame belongs to, -1 for any other frame."""
    place = frame.find(b"attack\0\0", 42)
    return -1 if place < 0 else int(struct.unpack("!I", frame[place + 8 : place + 12])[0])


def main() -> None:
    subprocess.run(["mount", "-t", "tmpfs", "lab", "/run"], check=True)
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
    job = json.load(sys.stdin)
    result = run(job)
    json.dump(result, sys.stdout)


if __name__ == "__main__":
    main()
