"""What is tried on a lab: everything between stations, every address of a switch, false servers, forged senders."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from trainer.lab.form import Answers
from trainer.lab.proof import _visitors
from trainer.lab.scenario import Scenario
from trainer.network.addresses import Mac
from trainer.network.devices import Network

Trial = dict[str, Any]


def with_visitors(lab: Scenario, key: Answers, network: Network) -> Network:
    """The network with a visitor at the first and the last needed address of every subnet of the key."""
    visitors = [
        (replace(visitor, mac=Mac(f"02-BB-00-00-00-{number:02X}")), vlan)
        for number, (visitor, vlan) in enumerate(_visitors(lab, key))
    ]
    return network.with_visitors(visitors)


def trials_of(lab: Scenario, network: Network) -> list[Trial]:
    """All trials of a lab, in the form that run_lab.py reads."""
    return [*_pings(network), *_reaches(network), *_rogues(lab), *_forgeries(lab)]


def _pings(network: Network) -> Iterator[Trial]:
    """Every station to every other, both ways."""
    for source in network.stations:
        for target in network.stations:
            if source is not target:
                yield {"kind": "ping", "from": source.name, "to": target.name}


def _reaches(network: Network) -> Iterator[Trial]:
    """Every station to every address that a switch was given."""
    addresses = {str(interface.address): None for switch in network.switches for interface in switch.interfaces}
    for source in network.stations:
        for address in addresses:
            yield {"kind": "reach", "from": source.name, "address": address}


def _rogues(lab: Scenario) -> Iterator[Trial]:
    """Every station plays a false server for a client of its VLAN, snooped or not."""
    for vlan in lab.dhcp_vlans:
        clients = [station.name for station in lab.dhcp_stations(vlan.number)]
        for rogue in lab.stations:
            victim = next((name for name in clients if name != rogue.name), None)
            if rogue.vlan == vlan.number and not rogue.is_server and victim is not None:
                yield {"kind": "rogue", "from": rogue.name, "to": victim}


def _forgeries(lab: Scenario) -> Iterator[Trial]:
    """Every station sends to the server with another's address, and with another's MAC, guarded or not."""
    stations = [station for station in lab.stations if not station.is_server]
    for number, station in enumerate(stations):
        other = stations[number - 1].name
        if other != station.name:
            for what in ("address_of", "mac_of"):
                yield {"kind": "forge", "from": station.name, "to": lab.server.name, what: other}


