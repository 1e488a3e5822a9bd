"""What of the trainee's own network works: its trials counted by sort, of those that the key's network shows."""

from collections.abc import Iterable, Mapping, Sequence

from trainer.lab.scenario import Scenario
from trainer.lab.trials import Trial, TrialKind, Tried, Visitor, renewals
from trainer.lab.works import Count, Works
from trainer.network.packets import Delivered
from trainer.network.topology import Running

__all__ = ["works_of"]

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
    leases = [each.source for each in renewals(scenario)]
    of_key = _macs(guests_of_key)
    pings = [_alike(each, of_key) for each in trials_of_key if not each.is_attack]
    attacks = [_alike(each, of_key) for each in trials_of_key if each.is_attack]
    return Works(
        leases=_count([(TrialKind.LEASE, name, "") for name in leases], shown),
        pings=_count(pings, shown),
        attacks=_count(attacks, shown),
    )


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


def _count(wanted: Sequence[_Alike], shown: set[_Alike]) -> Count | None:
    return Count(shown=sum(each in shown for each in wanted), of=len(wanted)) if wanted else None
