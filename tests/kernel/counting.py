"""What works in a real network: the kernel's own count, by the trials that the key's network has.

Links carry no trial here (comparing.NOT_MEASURED): of these the simulation's count is taken.
"""

from ipaddress import IPv4Address
from typing import Any

from comparing import Simulation, compare_with
from kernel_trials import guests_of, trials_of, with_cards
from measuring import measure_again

from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind, Visitor, plugged_in, trials_on
from trainer.lab.works import Count, Works
from trainer.marking.experiments import Laboratory

_BORROWS = {TrialKind.FORGED_ADDRESS: "address_of", TrialKind.FORGED_MAC: "mac_of"}


def counted(lab: Scenario, laboratory: Laboratory) -> Works | None:
    """What works in the laboratory's network as a kernel sees it; None where a trial is exempt from being compared.

    Where that is not what the simulation says, it is counted once more (measuring.measure_again).
    """
    guests = with_cards(laboratory.guests)
    visited = laboratory.network.with_visitors(plugged_in(guests))
    trials = trials_of(lab, visited)
    simulation = Simulation(lab, laboratory.network, guests)

    def count(measured: dict[str, Any]) -> Works | None:
        if compare_with(measured, trials, simulation).exempt:
            return None
        return _count_of(lab, laboratory, trials, measured, simulation)

    return measure_again(show_configuration(visited), trials, count, laboratory.works)


def _count_of(
    lab: Scenario,
    laboratory: Laboratory,
    trials: list[dict[str, Any]],
    measured: dict[str, Any],
    simulation: Simulation,
) -> Works:
    seen = {_name(trial): result for trial, result in zip(trials, measured["trials"], strict=True)}
    planned = {each.place for switch in laboratory.network.switches for each in switch.interfaces}
    unplanned = {visitor.name for visitor, vlan in simulation.guests if vlan not in planned}
    wanted = trials_on(lab, _guests_that_count(lab))
    shown = [(each.is_attack, _is_shown(each, seen, simulation, unplanned)) for each in wanted]
    clients = [each.name for each in lab.stations if each.fixed_number is None]
    leased = [_has_lease(name, lab, measured, seen) for name in clients]
    return Works(
        leases=_count(leased),
        pings=_count([works for is_attack, works in shown if not is_attack]),
        attacks=_count([works for is_attack, works in shown if is_attack]),
    )


def _guests_that_count(lab: Scenario) -> list[Visitor]:
    """Those of the key's guests who are at an address that its server gives to none of its clients, were they all in one VLAN."""
    key = derive_key(lab)
    network = build(lab, key).network
    assert network.server is not None
    set_by_hand = {station.fixed.address for station in network.stations if station.fixed is not None}
    set_by_hand |= {interface.address for switch in network.switches for interface in switch.interfaces}
    clients = sum(station.uses_dhcp for station in network.stations)
    given: set[IPv4Address] = set()
    for pool in network.server.pools:
        own = (IPv4Address(number) for number in range(int(pool.lowest), int(pool.highest) + 1))
        given |= set([each for each in own if each not in set_by_hand][:clients])
    return [each for each in guests_of(lab, key) if each[0].fixed is None or each[0].fixed.address not in given]


def _name(trial: dict[str, Any]) -> tuple[str, ...]:
    """Forgeries by what is borrowed of whom, rogue servers by where they are."""
    for what in _BORROWS.values():
        if what in trial:
            return what, trial["from"], trial[what]
    if trial["kind"] == "rogue":
        return "rogue", trial["from"]
    return trial["kind"], trial["from"], str(trial.get("to") or trial.get("address"))


def _is_shown(trial: Any, seen: dict[tuple[str, ...], Any], simulation: Simulation, unplanned: set[str]) -> bool:
    if trial.kind is TrialKind.ROGUE_ON_LINK:
        return bool(simulation.tried[trial.name].works)
    if {trial.source, trial.target} & unplanned:
        return trial.is_attack and _stopped(seen.get(("rogue", trial.source)))
    if trial.kind is TrialKind.ROGUE_SERVER:
        return _stopped(seen.get(("rogue", trial.source)))
    if trial.kind in _BORROWS:
        return _stopped(seen.get((_BORROWS[trial.kind], trial.source, trial.target)))
    return bool(seen.get(("ping", trial.source, trial.target)) == "answered")


def _stopped(result: Any) -> bool:
    """It gets through with the protection off, and only then."""
    return result == {"protected": False, "control": True}


def _has_lease(name: str, lab: Scenario, measured: dict[str, Any], seen: dict[tuple[str, ...], Any]) -> bool:
    """Granted, and the server is reached by unicast, as a renewal has to (RFC 2131 4.3.2)."""
    lease = measured["leases"].get(name)
    is_granted = lease is not None and not lease.get("duplicate")
    return is_granted and seen[("ping", name, lab.server.name)] == "answered"


def _count(works: list[bool]) -> Count | None:
    return Count(shown=sum(works), of=len(works)) if works else None
