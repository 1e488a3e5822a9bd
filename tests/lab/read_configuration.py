"""Reads the configuration of a scenario file as another tool would: what stands in it is the whole network."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.network.addresses import mac
from trainer.network.devices import (
    BindingRow,
    Cable,
    DhcpOptions,
    DhcpServer,
    FixedAddress,
    Interface,
    Network,
    Pool,
    Port,
    PortName,
    PortRef,
    Relay,
    Route,
    Station,
    Switch,
    SwitchName,
)

__all__ = ["read_configuration"]

OWN = "hopsheet-lab"
_IPV4_ROUTES = "ietf-ipv4-unicast-routing:ipv4"


def read_configuration(record: Any) -> Network:
    """The network that a configuration tells of, as another tool reads it."""
    network = record[f"{OWN}:network"]
    server = network.get("dhcp-server")
    return Network(
        switches=tuple(_read_switch(each) for each in network["switch"]),
        cables=tuple(Cable(_read_port(each["first"]), _read_port(each["second"])) for each in network["cable"]),
        stations=tuple(_read_station(each) for each in network["station"]),
        server=None
        if server is None
        else DhcpServer(station=server["station"], pools=tuple(_read_pool(each) for each in server["pool"])),
    )


def _read_switch(record: Mapping[str, Any]) -> Switch:
    entries = record["ietf-interfaces:interfaces"]["interface"]
    return Switch(
        name=SwitchName(record["name"]),
        ports=tuple(_read_ports(entries)),
        interfaces=tuple(_read_interfaces(entries)),
        routes=tuple(_read_routes(record)),
        discards=tuple(_read_discards(record)),
        relays=tuple(
            Relay(key=each["name"], vlan=each["vlan-id"], target=IPv4Address(each["server-address"]))
            for each in record["relay-agent"]
        ),
        snooped_vlans=frozenset(record["snooping"]["vlan-id"]),
        trusted_ports=frozenset(record["snooping"]["trusted-port"]),
        guarded_ports=frozenset(record["source-guard"]["port"]),
        static_rows=tuple(
            BindingRow(
                port=each["port"],
                vlan=each["vlan-id"],
                mac=mac(each["mac-address"]),
                address=IPv4Address(each["ipv4-address"]),
                key=each.get("name", ""),
            )
            for each in record["static-binding"]
        ),
    )


def _read_ports(entries: Sequence[Mapping[str, Any]]) -> Iterator[Port]:
    for entry in entries:
        if entry["enabled"] and not _is_vlan(entry):
            yield Port(
                name=PortName(entry["name"]),
                vlan=entry.get(f"{OWN}:vlan-id"),
                trunk_vlans=frozenset(entry.get(f"{OWN}:trunk-vlan-id", ())),
            )


def _read_interfaces(entries: Sequence[Mapping[str, Any]]) -> Iterator[Interface]:
    addressed = [entry for entry in entries if "ietf-ip:ipv4" in entry]
    for entry in sorted(addressed, key=lambda entry: entry[f"{OWN}:precedence"]):
        place: int | PortName = entry[f"{OWN}:vlan-id"] if _is_vlan(entry) else PortName(entry["name"])
        address, prefix_length = _read_address(entry)
        yield Interface(place=place, address=address, prefix_length=prefix_length)


def _is_vlan(entry: Mapping[str, Any]) -> bool:
    return bool(entry["type"] == "iana-if-type:l3ipvlan")


def _read_address(entry: Mapping[str, Any]) -> tuple[IPv4Address, int]:
    address = entry["ietf-ip:ipv4"]["address"][0]
    return IPv4Address(address["ip"]), address["prefix-length"]


def _read_routes(device: Mapping[str, Any]) -> Iterator[Route]:
    for route in _listed_routes(device):
        if "special-next-hop" not in route["next-hop"]:
            yield Route(
                key=route[f"{OWN}:name"],
                destination=IPv4Network(route["destination-prefix"]),
                next_hop=IPv4Address(route["next-hop"]["next-hop-address"]),
            )


def _read_discards(device: Mapping[str, Any]) -> Iterator[IPv4Network]:
    for route in _listed_routes(device):
        if "special-next-hop" in route["next-hop"]:
            yield IPv4Network(route["destination-prefix"])


def _listed_routes(device: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for protocol in device["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"]:
        yield from protocol["static-routes"][_IPV4_ROUTES]["route"]


def _read_station(record: Mapping[str, Any]) -> Station:
    entry = record["ietf-interfaces:interfaces"]["interface"][0]
    fixed = None
    if "ietf-ip:ipv4" in entry:
        address, prefix_length = _read_address(entry)
        gateway = next((route.next_hop for route in _read_routes(record)), None)
        fixed = FixedAddress(address=address, prefix_length=prefix_length, gateway=gateway)
    return Station(
        name=record["name"],
        mac=mac(entry[f"{OWN}:mac-address"]),
        at=_read_port(record["attached-to"]),
        uses_dhcp=entry[f"{OWN}:dhcp-client"],
        fixed=fixed,
    )


def _read_pool(record: Mapping[str, Any]) -> Pool:
    return Pool(
        key=record["name"],
        first=IPv4Address(record["first-address"]),
        last=IPv4Address(record["last-address"]),
        prefix_length=record["prefix-length"],
        router=IPv4Address(record["router"]) if "router" in record else None,
        lease_seconds=record["lease-time"],
        options=DhcpOptions(
            **{
                each.name: IPv4Address(record[name])
                for each in fields(DhcpOptions)
                if (name := each.name.replace("_", "-")) in record
            }
        ),
    )


def _read_port(record: Mapping[str, Any]) -> PortRef:
    return PortRef(SwitchName(record["switch"]), PortName(record["interface"]))
