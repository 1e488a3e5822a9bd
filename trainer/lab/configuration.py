"""A network's configuration as plain JSON data, so that other tools can build it.

What the IETF data models have a name for is called by it: interfaces (RFC 8343), their IPv4 addresses (RFC 8344) and
static routes (RFC 8349), encoded as RFC 7951 says. The rest (VLANs, relay agents, snooping, source guard, binding
table, DHCP server, cables) stands under a module name of our own, `hopsheet-lab`, in the words of RFC 2131, 1542 and
7513.

Scenario files
--------------
`instructor/labs/<lab number>.json`: `{"format": 1, "scenario": {...}, "key": {question: {row: text}},
"configuration": {...}, "proved": {"trials": 139, "digest": ...}}`, the scenario by its field names (`lab/scenario.py`, read and
written by `records.py`; the fields of `rules` stand flat among them), chosen words by their codes; by so many trials the key was
proved, as long as scenario and key have that digest. Another format number is refused in words; files from before the
configuration or the proof stood in them are read.

`configuration` is the network that the key configures (`lab/configuration.py`), for other tools to build. What the IETF
models name is named by them (RFC 8343 interfaces, RFC 8344 IPv4 addresses, RFC 8349 static routes; RFC 7951 encoding);
everything else belongs to our own module `hopsheet-lab`.

```json
{"hopsheet-lab:network": {
  "switch": [{
    "name": "B",
    "ietf-interfaces:interfaces": {"interface": [
      {"name": "7", "type": "iana-if-type:ethernetCsmacd", "enabled": true, "hopsheet-lab:vlan-id": 120},
      {"name": "23", "type": "iana-if-type:ethernetCsmacd", "enabled": true,
       "ietf-ip:ipv4": {"address": [{"ip": "172.16.0.2", "prefix-length": 30}]}, "hopsheet-lab:precedence": 2},
      {"name": "VLAN 120", "type": "iana-if-type:l3ipvlan", "enabled": true, "hopsheet-lab:vlan-id": 120,
       "ietf-ip:ipv4": {"address": [{"ip": "172.16.1.1", "prefix-length": 24}]}, "hopsheet-lab:precedence": 1}]},
    "ietf-routing:routing": {"control-plane-protocols": {"control-plane-protocol": [
      {"type": "ietf-routing:static", "name": "static 1", "static-routes": {"ietf-ipv4-unicast-routing:ipv4": {"route": [
        {"hopsheet-lab:name": "Route 1", "destination-prefix": "172.16.2.0/28",
         "next-hop": {"next-hop-address": "172.16.0.1"}}]}}}]}},
    "relay-agent": [{"name": "Relay 1", "vlan-id": 120, "server-address": "172.16.2.5"}],
    "snooping": {"vlan-id": [120], "trusted-port": ["23"]},
    "source-guard": {"port": ["7"]},
    "static-binding": [
      {"name": "Cranes", "port": "7", "vlan-id": 120, "mac-address": "02:00:00:00:00:07",
       "ipv4-address": "172.16.1.5"}]}],
  "cable": [{"first": {"switch": "A", "interface": "24"}, "second": {"switch": "B", "interface": "23"}}],
  "station": [{
    "name": "Cranes", "attached-to": {"switch": "B", "interface": "7"},
    "ietf-interfaces:interfaces": {"interface": [
      {"name": "network card", "type": "iana-if-type:ethernetCsmacd", "enabled": true,
       "hopsheet-lab:mac-address": "02:00:00:00:00:07", "hopsheet-lab:dhcp-client": false,
       "ietf-ip:ipv4": {"address": [{"ip": "172.16.1.5", "prefix-length": 24}]}}]},
    "ietf-routing:routing": {"control-plane-protocols": {"control-plane-protocol": []}}}],
  "dhcp-server": {"station": "DHCP server", "pool": [
    {"name": "120", "first-address": "172.16.1.11", "last-address": "172.16.1.254", "prefix-length": 24,
     "router": "172.16.1.1", "lease-time": 21600}]}}}
```

Options that the exercise gives stand in each pool as well, by their names in `DhcpOptions`: `"dns-server": "172.16.2.5"`.

A port with `hopsheet-lab:vlan-id` is an access port, one with `hopsheet-lab:trunk-vlan-id` (a list) a trunk, one with
neither is routed; one that nobody set up is not enabled. Of two interfaces of a switch whose networks overlap the one
with the lower `precedence` is in force. A second route to one prefix stands in a further instance of the static
protocol (its list has one route a prefix), and the earlier instance is preferred. A station's gateway is its default
route. Stations ask for leases in the order listed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import fields
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.network.addresses import DEFAULT_ROUTE
from trainer.network.devices import (
    Network,
    Pool,
    PortName,
    PortRef,
    Route,
    Station,
    Switch,
)

__all__ = ["show_configuration"]

Record = dict[str, Any]

OWN = "hopsheet-lab"
"""The module name of everything that the IETF models have no name for (RFC 7951 section 4)."""
_IPV4_ROUTES = "ietf-ipv4-unicast-routing:ipv4"


def show_configuration(network: Network) -> Record:
    """The network as dicts, lists, texts, numbers and truth values."""
    server = network.server
    record: Record = {
        "switch": [_show_switch(switch) for switch in network.switches],
        "cable": [{"first": _show_port(cable.first), "second": _show_port(cable.second)} for cable in network.cables],
        "station": [_show_station(station) for station in network.stations],
    }
    if server is not None:
        record["dhcp-server"] = {"station": server.station, "pool": [_show_pool(pool) for pool in server.pools]}
    return {f"{OWN}:network": record}


def _show_switch(switch: Switch) -> Record:
    return {
        "name": switch.name,
        "ietf-interfaces:interfaces": {"interface": list(_show_interfaces(switch))},
        "ietf-routing:routing": _show_routes(switch.routes, switch.discards),
        "relay-agent": [
            {"name": relay.key, "vlan-id": relay.vlan, "server-address": str(relay.target)} for relay in switch.relays
        ],
        "snooping": {"vlan-id": sorted(switch.snooped_vlans), "trusted-port": sorted(switch.trusted_ports)},
        "source-guard": {"port": sorted(switch.guarded_ports)},
        "static-binding": [
            {
                "name": row.key,
                "port": row.port,
                "vlan-id": row.vlan,
                "mac-address": _show_mac(row.mac),
                "ipv4-address": str(row.address),
            }
            for row in switch.static_rows
        ],
    }


def _show_interfaces(switch: Switch) -> Iterator[Record]:
    """Every port, and every VLAN interface, by name; a port that has an address and is not set up is not enabled."""
    addressed = {interface.place: interface for interface in switch.interfaces}
    precedence = {interface.place: number for number, interface in enumerate(switch.interfaces, 1)}
    ports = {port.name: port for port in switch.ports}
    places: list[int | PortName] = [*ports, *(place for place in addressed if place not in ports)]
    for place in places:
        is_vlan = isinstance(place, int)
        entry: Record = {
            "name": f"VLAN {place}" if is_vlan else place,
            "type": "iana-if-type:l3ipvlan" if is_vlan else "iana-if-type:ethernetCsmacd",
            "enabled": is_vlan or place in ports,
        }
        vlan = place if isinstance(place, int) else ports[place].vlan if place in ports else None
        if vlan is not None:
            entry[f"{OWN}:vlan-id"] = vlan
        if not is_vlan and place in ports and ports[place].trunk_vlans:
            entry[f"{OWN}:trunk-vlan-id"] = sorted(ports[place].trunk_vlans)
        interface = addressed.get(place)
        if interface is not None:
            entry["ietf-ip:ipv4"] = _show_address(interface.address, interface.prefix_length)
            entry[f"{OWN}:precedence"] = precedence[place]
        yield entry


def _show_address(address: IPv4Address, prefix_length: int) -> Record:
    return {"address": [{"ip": str(address), "prefix-length": prefix_length}]}


def _show_routes(routes: Sequence[Route], discards: Sequence[IPv4Network] = ()) -> Record:
    """Static routes: one instance of the protocol, and a further one where a prefix comes again.

    The list of routes has the destination prefix as its key, so a second route to it belongs to another instance
    (RFC 8349 section 5.3.1 allows several); the earlier instance is preferred.
    """
    instances: list[dict[str, Record]] = [{}]
    for route in routes:
        prefix = str(route.destination)
        if prefix in instances[-1]:
            instances.append({})
        instances[-1][prefix] = {
            f"{OWN}:name": route.key,
            "destination-prefix": prefix,
            "next-hop": {"next-hop-address": str(route.next_hop)},
        }
    protocols = [
        {
            "type": "ietf-routing:static",
            "name": f"static {number}",
            "static-routes": {_IPV4_ROUTES: {"route": list(instance.values())}},
        }
        for number, instance in enumerate(instances, 1)
        if instance
    ]
    if discards:
        to_nowhere = [
            {"destination-prefix": str(each), "next-hop": {"special-next-hop": "unreachable"}} for each in discards
        ]
        protocols.append(
            {
                "type": "ietf-routing:static",
                "name": "discard",
                "static-routes": {_IPV4_ROUTES: {"route": to_nowhere}},
            }
        )
    return {"control-plane-protocols": {"control-plane-protocol": protocols}}


def _show_station(station: Station) -> Record:
    entry: Record = {
        "name": "network card",
        "type": "iana-if-type:ethernetCsmacd",
        "enabled": True,
        f"{OWN}:mac-address": _show_mac(station.mac),
        f"{OWN}:dhcp-client": station.uses_dhcp,
    }
    fixed = station.fixed
    routes = []
    if fixed is not None:
        entry["ietf-ip:ipv4"] = _show_address(fixed.address, fixed.prefix_length)
        if fixed.gateway is not None:
            routes.append(Route(key="gateway", destination=DEFAULT_ROUTE, next_hop=fixed.gateway))
    return {
        "name": station.name,
        "attached-to": _show_port(station.at),
        "ietf-interfaces:interfaces": {"interface": [entry]},
        "ietf-routing:routing": _show_routes(routes),
    }


def _show_pool(pool: Pool) -> Record:
    record: Record = {
        "name": pool.key,
        "first-address": str(pool.first),
        "last-address": str(pool.last),
        "prefix-length": pool.prefix_length,
        "lease-time": pool.lease_seconds,
    }
    if pool.router is not None:
        record["router"] = str(pool.router)
    options = {each.name: getattr(pool.options, each.name) for each in fields(pool.options)}
    return record | {name.replace("_", "-"): str(value) for name, value in options.items() if value is not None}


def _show_port(port: PortRef) -> Record:
    return {"switch": port.switch, "interface": port.port}


def _show_mac(address: str) -> str:
    """Colons and small letters, as RFC 6991 section 4 writes a mac-address."""
    return address.replace("-", ":").lower()
