"""What of the trainee's own network works: its trials counted by sort, of those that the key's network shows."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from trainer.lab.scenario import Scenario
from trainer.lab.trials import Trial, TrialKind, Tried, Visitor, renewals
from trainer.lab.works import Count, Works
from trainer.network.packets import Delivered
from trainer.network.topology import Running

__all__ = ["all_works", "works_of"]

_Alike = tuple[TrialKind, str, str]
"""What a trial is known by in every network of a lab: visitors by their MACs, as their names tell where they stand; attacks of
stations without whom they are aimed at, which may be a visitor.
"""


def works_of(
    scenario: Scenario,
    running: Running,
    tried: Iterable[Tried],
    *,
    guests: Sequence[Visitor],
    guests_of_key: Sequence[Visitor],
    trials_of_key: Sequence[Trial],
) -> Works:
    """Counts what was tried on the network in operation, attacks with their controls.

    guests: who visited it; guests_of_key: who visits the key's network, on which trials_of_key are made after the leases.
    What only that one has is not shown here.
    """
    macs = _macs(guests)
    shown = {_alike(each.trial, macs) for each in tried if _is_shown(running, each)}
    wanted = _wanted(scenario, trials_of_key, _macs(guests_of_key))
    return _counted(wanted, lambda trials: sum(each in shown for each in trials))


def all_works(scenario: Scenario, trials_of_key: Sequence[Trial]) -> Works:
    """What the key's network shows, once it is proved: everything."""
    return _counted(_wanted(scenario, trials_of_key, {}), len)


class _Wanted(NamedTuple):
    """What the key's network shows, by sort."""

    leases: list[_Alike]
    pings: list[_Alike]
    attacks: list[_Alike]


def _wanted(scenario: Scenario, trials_of_key: Sequence[Trial], macs: Mapping[str, str]) -> _Wanted:
    """macs: of who visits the key's network, by name."""
    return _Wanted(
        leases=[(TrialKind.LEASE, each.source, "") for each in renewals(scenario)],
        pings=[_alike(each, macs) for each in trials_of_key if not each.is_attack],
        attacks=[_alike(each, macs) for each in trials_of_key if each.is_attack],
    )


def _counted(wanted: _Wanted, shown: Callable[[list[_Alike]], int]) -> Works:
    counts = wanted._asdict().items()
    return Works(**{sort: Count(shown=shown(trials), of=len(trials)) if trials else None for sort, trials in counts})


def _is_shown(running: Running, tried: Tried) -> bool:
    """A lease has to be renewed as well; an attack has to get through where the protection that stops it is off."""
    if tried.kind is TrialKind.LEASE:
        return tried.works and Trial(kind=TrialKind.RENEWAL, source=tried.source).run(running).works
    return tried.works and (not tried.is_attack or isinstance(tried.control, Delivered))


def _macs(guests: Iterable[Visitor]) -> Mapping[str, str]:
    return {visitor.name: visitor.mac for visitor, _ in guests}


def _alike(trial: Trial, macs: Mapping[str, str]) -> _Alike:
    if trial.is_attack and trial.port is None:
        return trial.kind, trial.source, ""
    if trial.source not in macs and trial.target not in macs:
        return trial.name
    return trial.kind, macs.get(trial.source, trial.source), macs.get(trial.target, trial.target)
