"""What is seen of a network as found, in a real network, in the words of sheet Symptoms."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from comparing import SETTLED
from kernel_trials import guests_of
from measuring import measure_again

from trainer.lab.configuration import show_configuration
from trainer.lab.key import derive_key
from trainer.lab.kinds import LEASE
from trainer.lab.repair.observing import Seen, View
from trainer.lab.repair.sheet import SymptomSort
from trainer.lab.scenario import Scenario
from trainer.lab.trials import Trial, TrialKind, plugged_in, trials_on
from trainer.network.devices import Network
from trainer.network.packets import Icmp

_TOLD = {Icmp.NETWORK_UNREACHABLE.value: "network unreachable", Icmp.TIME_EXCEEDED.value: "time exceeded"}
_ATTACKS = {
    TrialKind.ROGUE_SERVER: "a false DHCP server at {}",
    TrialKind.ROGUE_ON_LINK: "a false DHCP server on link {}",
    TrialKind.FORGED_ADDRESS: "a forged address from {}",
}


def seen_for_real(lab: Scenario, network: Network, looks: Sequence[Seen], wanted: View) -> View:
    """What a kernel, a DHCP server and filters show of the network. Where that is not what is wanted, they are asked twice."""
    attacks = [each for each in trials_on(lab, ()) if each.kind in _ATTACKS]
    pings = [(look, *ends) for look in looks if look.sort is SymptomSort.PING for ends in _both_ways(look)]
    trials = [{"kind": "ping", "from": source, "to": target} for _, source, target in pings]
    trials += [_attack(lab, each) for each in attacks]

    def look_at(measured: dict[str, Any]) -> View:
        view = dict.fromkeys(looks, "")
        for look in looks:
            if look.sort is SymptomSort.LEASE:
                view[look] = _lease(measured["leases"].get(look.source))
            elif look.sort is SymptomSort.TABLE:
                view[look] = (
                    ", ".join(sorted({row[0] for row in measured["rows"].get(look.source, ())}, key=int)) or "none"
                )
            elif look.sort is SymptomSort.COUNTER:
                view[look] = _counter(look, measured["counted"])
        told: dict[Seen, list[str]] = {}
        for number, (look, *_) in enumerate(pings):
            told.setdefault(look, []).append(_ping(network, measured["trials"][number], measured["heard"][number]))
        through: dict[str, list[str]] = {}
        for each, outcome in zip(attacks, measured["trials"][len(pings) :], strict=True):
            if outcome["protected"]:
                through.setdefault(_attacked(lab, each), []).append(_ATTACKS[each.kind].format(each.source))
        view |= {look: "; ".join(words) for look, words in told.items()}
        attacked = (look for look in looks if look.sort is SymptomSort.ATTACK)
        return view | {look: "; ".join(through.get(look.source, ["none got through"])) for look in attacked}

    return measure_again(show_configuration(network), trials, look_at, wanted, is_patient=True)


def outcomes_for_real(lab: Scenario, network: Network, wanted: Mapping[str, str]) -> Mapping[str, str]:
    """How the tests of sheet Tests come out in a real network, in its words, by their names; the laptops are plugged in."""
    assert lab.repair is not None
    guests = guests_of(lab, derive_key(lab))
    trials = [
        {"kind": "ping", "from": each.source, "to": each.target}
        if each.kind != TrialKind.FORGED_MAC.name
        else {"kind": "forge", "from": each.source, "to": lab.server.name, "mac_of": each.target}
        for each in lab.repair.tests
    ]
    names = [each.id for each in lab.repair.tests]

    def look_at(measured: dict[str, Any]) -> Mapping[str, str]:
        return dict(zip(names, map(_outcome, measured["trials"]), strict=True))

    visited = network.with_visitors(plugged_in(guests))
    return measure_again(show_configuration(visited), trials, look_at, wanted, is_patient=True)


def _outcome(seen: Any) -> str:
    if isinstance(seen, dict):
        return "arrives" if seen["protected"] else "stopped"
    return "answered" if seen == "answered" else "no answer"


def _both_ways(look: Seen) -> Iterator[tuple[str, str]]:
    yield look.source, look.target
    yield look.target, look.source


def _attack(lab: Scenario, trial: Trial) -> dict[str, Any]:
    if trial.kind is TrialKind.ROGUE_SERVER:
        return {"kind": "rogue", "from": trial.source, "to": trial.target}
    if trial.kind is TrialKind.FORGED_ADDRESS:
        return {"kind": "forge", "from": trial.source, "to": lab.server.name, "address_of": trial.target}
    link = lab.link_by_name[trial.source]
    ends = {(end.switch, end.port): {"switch": end.switch, "port": end.port} for end in (link.first, link.second)}
    assert trial.port is not None
    there = ends.pop((trial.port.switch, trial.port.port))
    return {"kind": "rogue-on-link", "from": ends.popitem()[1], "to": there}


def _attacked(lab: Scenario, trial: Trial) -> str:
    """The switch that lets it in."""
    return lab.station_by_name[trial.source].at.switch if trial.port is None else trial.port.switch


def _lease(lease: dict[str, Any] | None) -> str:
    if lease is None:
        return "no lease"
    names = f", DNS server {lease['dns-server']}" if lease["dns-server"] else ""
    router = f"router {lease['router']}" if lease["router"] else "no router"
    return f"{lease['address']} /{lease['prefix-length']}, {router}{names}, {LEASE.show(lease['lease-time'])}"


def _ping(network: Network, outcome: str, error: Sequence[Any] | None) -> str:
    """Of errors those that a switch tells by its routing table; which of them others tell is open (comparing.SETTLED)."""
    if outcome == "answered":
        return "answered"
    if error is None or tuple(error[:2]) not in SETTLED:
        return "nothing"
    tellers = [each.name for each in network.switches for own in each.interfaces if str(own.address) == error[2]]
    return f"{_TOLD[tuple(error[:2])]}, says {tellers[0]}"


def _counter(look: Seen, counted: dict[str, Any]) -> str:
    """A counter by its words: of the server a number of stations, of a switch its ports."""
    if not look.source:
        return str(len(counted["heard" if look.counter.endswith("heard") else "offered"]))
    protection = "snooping" if "server messages" in look.counter else "guard"
    return ", ".join(sorted(counted[protection].get(look.source, ()), key=int)) or "none"
