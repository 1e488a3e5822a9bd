"""A lab built from its configuration alone: network namespaces, veth pairs, bridges, filters, a DHCP server, relay agents.

Nothing of trainer/ is imported here: the configuration (JSON, see lab/configuration.py) is all that this
code knows, so that what is measured on it was worked out by nobody of this project but by the kernel and a DHCP server
from the distribution. It runs as the first process of namespaces of its own (run_lab.py) and cleans nothing up: when
that process ends, all of it is gone.

A switch is a namespace with a bridge for every VLAN, which is also the VLAN interface. A routed port is a bridge with
one member, so that a filter sees what comes in on it before anybody else does. A blank port is a veth that is down.

What the kernel would do in another way than a switch by the rules of the lab is brought about here, and named:
HOUSE_RULES. All else is the kernel's.
"""

import ctypes
import fcntl
import json
import os
import socket
import struct
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv4Interface, IPv4Network
from pathlib import Path
from typing import Any

HOUSE_RULES = {
    "overlap": "of two interfaces of a switch whose networks overlap, the later is not configured; a kernel takes both",
    "no port": "a VLAN interface whose VLAN has no port is not configured; a kernel's bridge answers without one",
    "no host": "an interface with a network or broadcast address is not configured (RFC 1812 10.2.2); a kernel takes it",
    "own next hop": "a route over the switch's own address is not configured; a kernel takes it and drops its packets",
    "own gateway": "a station whose gateway is its own address has none; a kernel then takes every address for a neighbour's",
    "own source": "a packet that has the switch's own address as its source, since two devices have it, is forwarded as any "
    "other; a kernel drops it",
    "network address": "nothing is sent to a network address on its network, and no route goes over one (RFC 1812 "
    "4.2.2.11 and 5.3.5); a kernel takes it for a host's since 5.14",
    "broadcast address": "nobody answers a station that has the broadcast address of its network (RFC 1122 3.2.1.3 and "
    "3.2.2.6), and no route goes over one; a kernel answers it by a broadcast, and refuses the route by a table entry "
    "that has to go for that",
}
"""Rules of the lab that this builder keeps because the kernel, or the DHCP server, would not."""

OWN = "hopsheet-lab"
ROUTED = 0xFFFFFFFF
"""The packet mark of a routed port, where an access port has its VLAN number."""
CLONE_NEWNET = 0x40000000
_LIBC = ctypes.CDLL(None, use_errno=True)
_SYSCTLS = {
    "net/ipv4/conf/{which}/rp_filter": "0",
    "net/ipv4/conf/{which}/accept_local": "1",
    "net/ipv4/conf/{which}/send_redirects": "0",
    "net/ipv4/conf/{which}/accept_redirects": "0",
    "net/ipv4/conf/{which}/arp_ignore": "1",
    "net/ipv4/conf/{which}/arp_announce": "2",
    "net/ipv6/conf/{which}/disable_ipv6": "1",
    "net/ipv4/icmp_ratemask": "0",
    "net/ipv4/neigh/default/retrans_time_ms": "150",
    "net/ipv4/neigh/default/unres_qlen_bytes": "4000000",
}


@dataclass(slots=True)
class Lab:
    """What was built: namespaces by switch and station, interface names by port."""

    switches: dict[str, str] = field(default_factory=dict)
    stations: dict[str, str] = field(default_factory=dict)
    ports: dict[tuple[str, str], str] = field(default_factory=dict)
    """Interface of a port, by switch and port: "p3"."""
    access: dict[tuple[str, str], int] = field(default_factory=dict)
    """VLAN number of each access port that is up."""
    bridges: dict[tuple[str, str], str] = field(default_factory=dict)
    """The bridge that a port which is up belongs to."""
    checked: set[tuple[str, str]] = field(default_factory=set)
    """Ports that check server messages: access ports in a snooped VLAN, routed ports of a switch that snoops."""
    trusted: set[tuple[str, str]] = field(default_factory=set)
    refused: list[str] = field(default_factory=list)
    """What the kernel did not take, in its words."""
    daemons: list[tuple[str, "subprocess.Popen[bytes]"]] = field(default_factory=list)
    """Namespace and process of the DHCP server and of each switch's relay agents."""
    server_pings: bool = False
    """Whether the server asks before it offers an address; it waits three seconds for whoever does not answer."""


@contextmanager
def inside(namespace: str) -> Iterator[None]:
    """What is opened or started here belongs to that network namespace."""
    home = os.open("/proc/self/ns/net", os.O_RDONLY)
    there = os.open(f"/run/netns/{namespace}", os.O_RDONLY)
    try:
        _enter(there)
        yield
    finally:
        _enter(home)
        os.close(there)
        os.close(home)


def _enter(namespace: int) -> None:
    if _LIBC.setns(namespace, CLONE_NEWNET):
        raise OSError(ctypes.get_errno(), "setns")


def widen(any_socket: socket.socket) -> None:
    """A buffer for a whole round, past the limit that the system sets (SO_RCVBUFFORCE, socket(7))."""
    any_socket.setsockopt(socket.SOL_SOCKET, 33, 1 << 23)


def build(configuration: dict[str, Any]) -> Lab:
    """Builds all of it and waits until server and relay agents listen."""
    network = configuration[f"{OWN}:network"]
    lab = Lab(
        switches={each["name"]: f"s{number}" for number, each in enumerate(network["switch"])},
        stations={each["name"]: f"h{number}" for number, each in enumerate(network["station"])},
    )
    namespaces = [*lab.switches.values(), *lab.stations.values()]
    run_ip(lab, None, [f"netns add {name}" for name in namespaces])
    for name in namespaces:
        _set_sysctls(name, forwards=name in lab.switches.values())
    run_ip(lab, None, _plug_in(lab, network))
    for switch in network["switch"]:
        run_ip(lab, lab.switches[switch["name"]], _switch(lab, switch))
        _protect(lab, switch)
        _start_relays(lab, switch)
    for station in network["station"]:
        run_ip(lab, lab.stations[station["name"]], _station(station))
    _start_server(lab, network)
    _wait_for_cables(lab, network)
    _wait_for_daemons(lab)
    return lab


def forget_neighbours(lab: Lab) -> None:
    """Empties the neighbour tables, whose room all labs of a machine share.

    The kernel takes namespaces away some time after their last process has ended, and what is in their tables counts
    until then: the next lab would find no room although this one has given its own back.
    """
    for namespace in (*lab.switches.values(), *lab.stations.values()):
        run_ip(lab, namespace, ["neigh flush all"])


def run_ip(lab: Lab, namespace: str | None, lines: Sequence[str]) -> None:
    """Runs the lines of one batch; what the kernel refuses is noted, and the rest goes on."""
    where = [] if namespace is None else ["-n", namespace]
    done = subprocess.run(
        ["ip", *where, "-force", "-batch", "-"], input="\n".join(lines), text=True, capture_output=True, check=False
    )
    failed = [line for line in done.stderr.splitlines() if line and not line.startswith("Command failed")]
    if failed:
        lab.refused.extend(f"{namespace}: {line}" for line in failed)


def _set_sysctls(namespace: str, *, forwards: bool) -> None:
    with inside(namespace):
        for name, value in {**_SYSCTLS, "net/ipv4/ip_forward": "1" if forwards else "0"}.items():
            for which in ("all", "default") if "{which}" in name else ("",):
                file = Path("/proc/sys") / name.format(which=which)
                if file.exists():
                    file.write_text(value)


# --- Cables -----------------------------------------------------------------------------------------------------------


def _plug_in(lab: Lab, network: dict[str, Any]) -> Iterator[str]:
    """A veth pair for every cable between switches and for every station."""
    for cable in network["cable"]:
        first, second = (_new_port(lab, cable[end]["switch"], cable[end]["interface"]) for end in ("first", "second"))
        yield f"link add {first[1]} netns {first[0]} type veth peer name {second[1]} netns {second[0]}"
    for station in network["station"]:
        at, card = station["attached-to"], _card(station)
        here = lab.stations[station["name"]]
        there = _new_port(lab, at["switch"], at["interface"])
        address = card[f"{OWN}:mac-address"]
        yield f"link add {there[1]} netns {there[0]} type veth peer name eth0 netns {here} address {address}"


def _new_port(lab: Lab, switch: str, port: str) -> tuple[str, str]:
    """The namespace and the interface of a port, which gets its name now."""
    return lab.switches[switch], lab.ports.setdefault((switch, port), f"p{len(lab.ports)}")


def _wait_for_cables(lab: Lab, network: dict[str, Any]) -> None:
    """Until every port that is set up and has somebody at the other end is running; the kernel takes up to a second."""
    up = {
        (switch["name"], entry["name"])
        for switch in network["switch"]
        for entry in switch["ietf-interfaces:interfaces"]["interface"]
        if entry["enabled"]
    }
    waiting = [place for cable in network["cable"] for place in _ends(cable) if up.issuperset(_ends(cable))]
    waiting += [place for station in network["station"] if (place := _place(station["attached-to"])) in up]
    give_up = time.monotonic() + 10
    sockets = {}
    for switch, namespace in lab.switches.items():
        with inside(namespace):
            sockets[switch] = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    while waiting := [place for place in waiting if not _is_running(sockets[place[0]], lab.ports[place])]:
        if time.monotonic() > give_up:
            raise RuntimeError(f"ports that do not come up: {waiting}")
        time.sleep(0.01)
    for each in sockets.values():
        each.close()


def _ends(cable: dict[str, Any]) -> tuple[tuple[str, str], tuple[str, str]]:
    return _place(cable["first"]), _place(cable["second"])


def _place(record: dict[str, Any]) -> tuple[str, str]:
    return record["switch"], record["interface"]


def _is_running(asked: socket.socket, interface: str) -> bool:
    """IFF_RUNNING of SIOCGIFFLAGS, netdevice(7)."""
    answer = fcntl.ioctl(asked, 0x8913, struct.pack("16sH14x", interface.encode(), 0))
    return bool(struct.unpack("16sH14x", answer)[1] & 0x40)


def _card(station: dict[str, Any]) -> dict[str, Any]:
    card: dict[str, Any] = station["ietf-interfaces:interfaces"]["interface"][0]
    return card


# --- Switches ---------------------------------------------------------------------------------------------------------


def _switch(lab: Lab, switch: dict[str, Any]) -> list[str]:
    name = switch["name"]
    entries = switch["ietf-interfaces:interfaces"]["interface"]
    lines = ["link set lo up"]
    bridges: dict[int | str, str] = {}
    for entry in entries:
        plugged = lab.ports.get((name, entry["name"]))
        if _is_vlan(entry) or not entry["enabled"] or plugged is None:
            continue
        vlan = entry.get(f"{OWN}:vlan-id")
        if vlan is not None:
            lab.access[name, entry["name"]] = vlan
        place = entry["name"] if vlan is None else vlan
        if place not in bridges:
            bridges[place] = f"br{len(bridges)}"
            lines += _new_bridge(bridges[place], len(bridges), lab.switches[name])
        lab.bridges[name, entry["name"]] = bridges[place]
        lines += [f"link set {plugged} master {bridges[place]}", f"link set {plugged} up"]
    interfaces = usable_interfaces(entries)
    for place, address in interfaces.items():
        if place in bridges:
            lines.append(f"addr add {address} dev {bridges[place]}")
            lines += _no_hosts(address, bridges[place])
    own = {address.ip for address in interfaces.values()}
    for protocol in switch["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"]:
        for route in protocol["static-routes"]["ietf-ipv4-unicast-routing:ipv4"]["route"]:
            if "special-next-hop" in route["next-hop"]:  # behind a route of the same length that leads somewhere
                lines.append(f"route add throw {route['destination-prefix']} metric 4096")
                continue
            next_hop = IPv4Address(route["next-hop"]["next-hop-address"])
            networks = [address.network for address in interfaces.values()]
            if next_hop in own or any(_is_end_of(network, next_hop) for network in networks):
                lab.refused.append(f"{name}: route over {next_hop}, by a house rule")
                continue
            lines.append(f"route add {route['destination-prefix']} via {next_hop}")
    return lines


def _new_bridge(bridge: str, number: int, namespace: str) -> list[str]:
    address = f"02:aa:00:00:{int(namespace[1:]):02x}:{number:02x}"
    return [
        f"link add {bridge} address {address} type bridge stp_state 0 forward_delay 0 mcast_snooping 0",
        f"link set {bridge} up",
    ]


def usable_interfaces(entries: Sequence[dict[str, Any]]) -> dict[int | str, IPv4Interface]:
    """Addresses of a switch by VLAN or routed port, as far as the house rules let them be configured."""
    vlans = {entry.get(f"{OWN}:vlan-id") for entry in entries if not _is_vlan(entry) and entry["enabled"]}
    usable: dict[int | str, IPv4Interface] = {}
    addressed = [entry for entry in entries if "ietf-ip:ipv4" in entry]
    for entry in sorted(addressed, key=lambda entry: entry[f"{OWN}:precedence"]):
        address = _address(entry)
        is_up = (
            entry[f"{OWN}:vlan-id"] in vlans if _is_vlan(entry) else entry["enabled"] and f"{OWN}:vlan-id" not in entry
        )
        overlaps = any(address.network.overlaps(other.network) for other in usable.values())
        if is_up and not _is_no_host(address) and not overlaps:
            usable[entry[f"{OWN}:vlan-id"] if _is_vlan(entry) else entry["name"]] = address
    return usable


def _is_vlan(entry: dict[str, Any]) -> bool:
    return bool(entry["type"] == "iana-if-type:l3ipvlan")


def _address(entry: dict[str, Any]) -> IPv4Interface:
    address = entry["ietf-ip:ipv4"]["address"][0]
    return IPv4Interface(f"{address['ip']}/{address['prefix-length']}")


def _is_no_host(address: IPv4Interface) -> bool:
    return _is_end_of(address.network, address.ip)


def _is_end_of(network: IPv4Network, address: IPv4Address) -> bool:
    """Whether it is the network address or the broadcast address."""
    return network.prefixlen < 31 and address in (network.network_address, network.broadcast_address)


def _no_hosts(address: IPv4Interface, device: str) -> list[str]:
    """Nothing is sent to the network or the broadcast address of an own network, as if to a host (house rules)."""
    network = address.network
    if network.prefixlen >= 31:
        return []
    return [
        f"route add blackhole {network.network_address}/32",
        f"route del broadcast {network.broadcast_address} dev {device} table local",
        f"route add blackhole {network.broadcast_address}/32",
    ]


# --- Snooping and source guard ----------------------------------------------------------------------------------------


def _protect(lab: Lab, switch: dict[str, Any]) -> None:
    """A filter on what comes in on each port: first snooping, then source guard by the binding table."""
    name = switch["name"]
    snooped = switch["snooping"]["vlan-id"]
    for entry in switch["ietf-interfaces:interfaces"]["interface"]:
        place = (name, entry["name"])
        if not _is_vlan(entry) and entry["enabled"]:
            vlan = entry.get(f"{OWN}:vlan-id")
            if bool(snooped) if vlan is None else vlan in snooped:
                lab.checked.add(place)
            if entry["name"] in switch["snooping"]["trusted-port"]:
                lab.trusted.add(place)
    ports = [port for (owner, port) in lab.ports if owner == name]
    lines = [
        "table netdev protection {",
        "set bindings { typeof meta iifname . meta mark . ether saddr . ip saddr",
    ]
    rows = [
        row_text(lab.ports[name, row["port"]], row["vlan-id"], row["mac-address"], row["ipv4-address"])
        for row in switch["static-binding"]
        if row["port"] in ports
    ]
    lines.append(f"elements = {{ {', '.join(dict.fromkeys(rows))} }} }}" if rows else "}")
    for port in ports:
        plugged = lab.ports[name, port]
        is_checked = (name, port) in lab.checked - lab.trusted
        lines += [f"chain snooping_{plugged} {{", *(_SNOOPING if is_checked else ()), "}"]
        is_guarded = port in switch["source-guard"]["port"]
        lines += [f"chain guard_{plugged} {{", *(_GUARD if is_guarded else ()), "}"]
        lines += [
            f"chain in_{plugged} {{ type filter hook ingress device {plugged} priority 0; policy accept;",
            f"meta mark set {lab.access.get((name, port), ROUTED)}",
            f"jump snooping_{plugged}",
            f"jump guard_{plugged}",
            "}",
        ]
    lines.append("}")
    run_nft(lab.switches[name], lines)


_SNOOPING = ("meta protocol ip udp dport { 67, 68 } @th,64,8 2 counter drop",)
"""A server message is told by its op field, which stands behind the UDP header: 2 is BOOTREPLY (RFC 2131 section 2)."""
_GUARD = (
    "meta protocol ip ip saddr 0.0.0.0 udp sport 68 udp dport 67 @th,64,8 1 accept",
    "meta protocol ip meta iifname . meta mark . ether saddr . ip saddr @bindings accept",
    "meta protocol ip counter drop",
    "meta protocol arp arp saddr ip 0.0.0.0 accept",
    "meta protocol arp meta iifname . meta mark . ether saddr . arp saddr ip @bindings accept",
    "meta protocol arp counter drop",
)
"""IPv4 and ARP pass by the binding table, and so do requests of a client that has no address yet (RFC 7513 8.2)."""


def row_text(plugged: str, vlan: int, mac_address: str, address: str) -> str:
    return f'"{plugged}" . {vlan} . {mac_address} . {address}'


def run_nft(namespace: str, lines: Sequence[str]) -> None:
    with inside(namespace):
        subprocess.run(["nft", "-f", "-"], input="\n".join(lines), text=True, check=True)


def bind(lab: Lab, switch: str, row: str) -> None:
    """Enters a learnt row into the binding table."""
    run_nft(lab.switches[switch], [f"add element netdev protection bindings {{ {row} }}"])


def unbind(lab: Lab, switch: str, row: str) -> None:
    """Takes a learnt row out of the binding table."""
    run_nft(lab.switches[switch], [f"delete element netdev protection bindings {{ {row} }}"])


def dropped(lab: Lab, protection: str) -> dict[str, list[str]]:
    """By switch the ports on which "snooping" or "guard" has dropped something, by the counters of its filter."""
    found: dict[str, list[str]] = {}
    for switch, namespace in lab.switches.items():
        with inside(namespace):
            listed = subprocess.run(["nft", "-j", "list", "ruleset"], capture_output=True, check=True).stdout
        rules = [each["rule"] for each in json.loads(listed)["nftables"] if "rule" in each]
        counted = {
            rule["chain"]
            for rule in rules
            if any(statement.get("counter", {}).get("packets") for statement in rule["expr"] if "counter" in statement)
        }
        found[switch] = [
            port
            for (owner, port), plugged in lab.ports.items()
            if owner == switch and f"{protection}_{plugged}" in counted
        ]
    return found


def switch_off(lab: Lab, protection: str) -> None:
    """Takes "snooping" or "guard" away on every switch."""
    for switch, namespace in lab.switches.items():
        ports = [plugged for (owner, _), plugged in lab.ports.items() if owner == switch]
        run_nft(namespace, [f"flush chain netdev protection {protection}_{plugged}" for plugged in ports])


# --- Stations and DHCP ------------------------------------------------------------------------------------------------


def _station(station: dict[str, Any]) -> list[str]:
    card = _card(station)
    lines = ["link set lo up", "link set eth0 up"]
    if "ietf-ip:ipv4" in card:
        gateway = None
        for protocol in station["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"]:
            for route in protocol["static-routes"]["ietf-ipv4-unicast-routing:ipv4"]["route"]:
                gateway = route["next-hop"]["next-hop-address"]
        lines += station_address(_address(card), gateway)
    return lines


def station_address(address: IPv4Interface, gateway: str | None) -> list[str]:
    """Lines that give a station its address and gateway."""
    lines = [f"addr add {address} dev eth0", *_no_hosts(address, "eth0")]
    if gateway is not None and IPv4Address(gateway) != address.ip:
        lines.append(f"route add default via {gateway}")
    return lines


def _start_relays(lab: Lab, switch: dict[str, Any]) -> None:
    """The relay agents of a switch, on VLAN interfaces that are up."""
    entries = switch["ietf-interfaces:interfaces"]["interface"]
    interfaces = usable_interfaces(entries)
    relays = [
        f"--dhcp-relay={interfaces[relay['vlan-id']].ip},{relay['server-address']}"
        for relay in switch["relay-agent"]
        if relay["vlan-id"] in interfaces
    ]
    if relays:
        _start_daemon(lab, lab.switches[switch["name"]], relays)


def _start_server(lab: Lab, network: dict[str, Any]) -> None:
    server = network.get("dhcp-server")
    station = None if server is None else next((s for s in network["station"] if s["name"] == server["station"]), None)
    if server is None or station is None or "ietf-ip:ipv4" not in _card(station):
        return
    options = ["--dhcp-sequential-ip", "--dhcp-authoritative", "--dhcp-lease-max=100000", "--leasefile-ro"]
    lab.server_pings = any(_may_meet_somebody(network, pool) for pool in server["pool"])
    if not lab.server_pings:
        options.append("--no-ping")
    for number, pool in enumerate(server["pool"]):
        first, last = IPv4Address(pool["first-address"]), IPv4Address(pool["last-address"])
        served = IPv4Network((first, pool["prefix-length"]), strict=False)
        lease = "infinite" if pool["lease-time"] == 2**32 - 1 else pool["lease-time"]
        options.append(f"--dhcp-range=set:pool{number},{first},{last},{served.netmask},{lease}")
        options.append(f"--dhcp-option=tag:pool{number},3" + (f",{pool['router']}" if "router" in pool else ""))
        options.append(f"--dhcp-option=tag:pool{number},6" + (f",{pool['dns-server']}" if "dns-server" in pool else ""))
    if server["pool"]:
        _start_daemon(lab, lab.stations[station["name"]], options)


def _may_meet_somebody(network: dict[str, Any], pool: dict[str, Any]) -> bool:
    """Whether a device has one of the addresses of the pool that come first; nobody gets further in it than the number
    of clients. Where nobody has, asking would find nobody, and take three seconds for each client.
    """
    first, last = sorted(int(IPv4Address(pool[end])) for end in ("first-address", "last-address"))
    stations = [_card(station) for station in network["station"]]
    devices = [*stations, *(e for s in network["switch"] for e in s["ietf-interfaces:interfaces"]["interface"])]
    taken = {int(_address(device).ip) for device in devices if "ietf-ip:ipv4" in device}
    clients = sum("ietf-ip:ipv4" not in card for card in stations)
    return any(number in taken for number in range(first, min(last + 1, first + clients)))


def _start_daemon(lab: Lab, namespace: str, options: Sequence[str]) -> None:
    command = ["dnsmasq", "--conf-file=/dev/null", "--keep-in-foreground", "--port=0", "--user=root", "--pid-file="]
    with inside(namespace), _log_of(namespace).open("wb") as log:
        daemon = subprocess.Popen([*command, "--log-facility=-", *options], stdin=subprocess.DEVNULL, stderr=log)
    lab.daemons.append((namespace, daemon))


def offered(lab: Lab, server: str) -> set[bytes]:
    """The MACs to which the DHCP server made an offer, by its log."""
    log = _log_of(lab.stations[server])
    words = log.read_text(errors="replace").split() if log.exists() else []
    return {
        bytes.fromhex(words[place + 2].replace(":", ""))
        for place, word in enumerate(words)
        if word.startswith("DHCPOFFER(")
    }


def _log_of(namespace: str) -> Path:
    return Path(f"/run/dhcp-{namespace}.log")


def _wait_for_daemons(lab: Lab) -> None:
    """Until each has its socket on port 67 (0043 in hexadecimal), or has ended; then its last words are noted."""
    give_up = time.monotonic() + 10
    for namespace, daemon in lab.daemons:
        while True:
            if daemon.poll() is not None:
                words = _log_of(namespace).read_text(errors="replace").strip()
                if "inconsistent DHCP range" in words:  # a pool that goes past its own network: there is no server
                    lab.refused.append(f"{namespace}: {words}")
                    break
                raise RuntimeError(f"the DHCP daemon in {namespace} ended: {words}")
            with inside(namespace):
                sockets = Path("/proc/thread-self/net/udp").read_text()
            if any(line.split()[1].endswith(":0043") for line in sockets.splitlines()[1:]):
                break
            if time.monotonic() > give_up:
                raise RuntimeError(f"the DHCP daemon in {namespace} does not listen")
            time.sleep(0.005)
