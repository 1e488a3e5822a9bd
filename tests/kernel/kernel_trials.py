"""What is tried on a lab, in the form that run_lab.py reads: all that lab/trials.py tries, and more of each kind."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from trainer.lab.form import Answers
from trainer.lab.questions import subnets
from trainer.lab.scenario import Scenario
from trainer.lab.trials import Site, TrialKind, TrialName, Visitor, visitors
from trainer.network.addresses import Mac, network_at
from trainer.network.devices import Network

Trial = dict[str, Any]


def guests_of(lab: Scenario, key: Answers) -> tuple[Visitor, ...]:
    """Visitors at the first and the last needed address of every network of the key, with MACs that a card can have."""
    sites = {
        vlan.id: Site(
            network_at(key.get(subnets.NETWORK_ADDRESS, row), key.get(subnets.MASK, row)),
            key.get(subnets.GATEWAY, row),
        )
        for vlan in lab.vlans
        for row in (subnets.row_of(vlan.id),)
    }
    return with_cards(visitors(lab, sites))


def with_cards(guests: Sequence[Visitor]) -> tuple[Visitor, ...]:
    """The visitors with MACs that a card can have."""
    return tuple(
        (replace(visitor, mac=Mac(f"02-BB-00-00-00-{number:02X}")), vlan)
        for number, (visitor, vlan) in enumerate(guests)
    )


def trials_of(lab: Scenario, network: Network) -> list[Trial]:
    """All trials on a lab's network, which has its guests already."""
    return [*_pings(network), *_reaches(network), *_renewals(network), *_rogues(lab, network), *_forgeries(lab)]


def name_of(trial: Trial, guests: Sequence[Visitor]) -> TrialName | None:
    """What lab/trials.py calls the trial, if it makes it; None for one of no kind of its."""
    source, target = trial["from"], trial.get("to")
    names = {visitor.name for visitor, _ in guests}
    if trial["kind"] == "ping":
        return (TrialKind.REACH if target in names else TrialKind.PING), source, str(target)
    if trial["kind"] == "rogue":
        return TrialKind.ROGUE_SERVER, source, str(target)
    if "address_of" in trial:
        return TrialKind.FORGED_ADDRESS, source, trial["address_of"]
    if "mac_of" in trial:
        return TrialKind.FORGED_MAC, source, trial["mac_of"]
    return None


def _pings(network: Network) -> Iterator[Trial]:
    """Every station to every other, both ways; visitors are among them."""
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


def _renewals(network: Network) -> Iterator[Trial]:
    """Every client wants to keep its lease."""
    for station in network.stations:
        if station.uses_dhcp:
            yield {"kind": "renew", "from": station.name}


def _rogues(lab: Scenario, network: Network) -> Iterator[Trial]:
    """Every station plays a rogue server in its VLAN, snooped or not: for a client, else another station, else a visitor."""
    for vlan in lab.vlans:
        stations = [station.name for station in lab.stations if station.vlan == vlan.id]
        visitors_here = [each.name for each in network.stations if f" of VLAN {vlan.id} (no." in each.name]
        hearers = [*(station.name for station in lab.dhcp_stations(vlan.id)), *stations, *visitors_here]
        for rogue in stations:
            hearer = next((name for name in hearers if name != rogue), None)
            if rogue != lab.server.name and hearer is not None:
                yield {"kind": "rogue", "from": rogue, "to": hearer}


def _forgeries(lab: Scenario) -> Iterator[Trial]:
    """Every station sends to the server with another's address, and with another's MAC, guarded or not.

    Once as lab/trials.py does, as the first other station (the server itself where there is none), and once as the
    station before it in the list.
    """
    stations = [station.name for station in lab.stations if not station.is_server]
    for place, name in enumerate(stations):
        first = next((each for each in stations if each != name), lab.server.name)
        for other in dict.fromkeys((first, stations[place - 1])):
            if other != name:
                for what in ("address_of", "mac_of"):
                    yield {"kind": "forge", "from": name, "to": lab.server.name, what: other}
