"""Trying what a sheet does not print: whether a deviation has an effect at all, and what is left to test."""

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trainer.lab.build import build
from trainer.lab.form import Answers
from trainer.lab.proof import leases_served, site_of
from trainer.lab.questions import pools, stations, subnets
from trainer.lab.repair.found import with_slips
from trainer.lab.repair.observing import Seen
from trainer.lab.repair.sheet import LAPTOP, OutcomeOfTest, SymptomSort
from trainer.lab.repair.slips import Slip
from trainer.lab.rows import StationRow
from trainer.lab.scenario import Scenario
from trainer.lab.trials import (
    Trial,
    TrialKind,
    TrialName,
    Visitor,
    plugged_in,
    renewals,
    trials_on,
    try_network,
    visitors,
)
from trainer.network.dhcp import start
from trainer.network.packets import Delivered
from trainer.network.topology import Lease, Running

__all__ = ["Bench", "Tryout", "comes_out"]

_TESTED = (TrialKind.PING, TrialKind.REACH, TrialKind.FORGED_MAC)
"""What is left to try: the printed symptoms hold no ping to a needed address and no forged MAC."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tryout:
    """A trial that is not printed as seen, and how it comes out."""

    trial: Trial
    words: str
    found: OutcomeOfTest
    mended: OutcomeOfTest
    shows: tuple[int, ...]
    """Which of the faults, from 1, makes it come out otherwise while it is the only one that is left."""

    @property
    def is_telling(self) -> bool:
        return self.found is not self.mended


def comes_out(trial: Trial, running: Running) -> OutcomeOfTest:
    """How a test comes out in a network in operation."""
    tried = trial.run(running)
    if trial.is_attack:
        return OutcomeOfTest.ARRIVES if isinstance(tried.outcome, Delivered) else OutcomeOfTest.STOPPED
    return OutcomeOfTest.ANSWERED if tried.works else OutcomeOfTest.NO_ANSWER


class Bench:
    """One lab on which everything is tried, with visitors at needed addresses of the right networks."""

    def __init__(self, scenario: Scenario, key: Answers) -> None:
        self.scenario = scenario
        self.key = key
        self.guests: tuple[Visitor, ...] = visitors(
            scenario, {vlan.id: site_of(key, vlan.id) for vlan in scenario.vlans}
        )
        self.trials: dict[TrialName, Trial] = {each.name: each for each in trials_on(scenario, self.guests)}

    def running(self, answers: Answers) -> Running:
        """The network of the answers in operation."""
        return start(build(self.scenario, answers).network.with_visitors(plugged_in(self.guests)))[0]

    def changes_nothing(self, faults: Sequence[Slip], decoys: Sequence[Slip]) -> bool:
        """Whether every trial of a proof goes with the decoys as without, beside the faults and once these are mended."""
        return all(
            self._shown((*slips, *decoys)) == self._shown(slips) for slips in (tuple(faults), ())
        ) and self._pools_serve((*faults, *decoys))

    def separating(self, faults: Sequence[Slip], printed: Iterable[Seen]) -> int:
        """How many tests come out otherwise once the faults are mended; 0 where one of them is shown by none."""
        telling = [each for each in self._tryouts(faults, (), printed) if each.is_telling]
        return len(telling) if _every_one_of(faults) <= _shown_by(telling) else 0

    def tests(
        self,
        faults: Sequence[Slip],
        decoys: Sequence[Slip],
        separating: int,
        many: int,
        printed: Iterable[Seen],
        rng: random.Random,
    ) -> tuple[Tryout, ...] | None:
        """So many tests in random order, of which so many separate, with one for every fault that any shows; None where there are
        not as many.
        """
        tryouts = self._tryouts(faults, decoys, printed)
        others = [each for each in tryouts if not each.is_telling]
        telling = _telling_of_each(faults, [each for each in tryouts if each.is_telling], separating, rng)
        if telling is None or len(others) < many - separating:
            return None
        return tuple(rng.sample([*telling, *rng.sample(others, many - separating)], many))

    def _tryouts(self, faults: Sequence[Slip], decoys: Sequence[Slip], printed: Iterable[Seen]) -> list[Tryout]:
        known = {frozenset((each.source, each.target)) for each in printed if each.sort is SymptomSort.PING}
        found = self.running(with_slips(self.key, (*faults, *decoys)))
        mended = self.running(self.key)
        alone = [self.running(with_slips(self.key, (each,))) for each in faults] if len(faults) > 1 else [found]
        return [
            Tryout(
                trial=trial,
                words=self._in_words(trial),
                found=comes_out(trial, found),
                mended=comes_out(trial, mended),
                shows=tuple(
                    number
                    for number, left in enumerate(alone[: len(faults)], 1)
                    if comes_out(trial, left) is not comes_out(trial, mended)
                ),
            )
            for trial in self.trials.values()
            if trial.kind in _TESTED and frozenset((trial.source, trial.target)) not in known
        ]

    def _in_words(self, trial: Trial) -> str:
        source, target = (self._called(name) for name in (trial.source, trial.target))
        if trial.is_attack:
            return f"{source} sends to the DHCP server with the MAC of {target} and its own address"
        return f"{source} pings {target}"

    def _called(self, name: str) -> str:
        """A laptop by its VLAN and the number of its address: "a laptop in VLAN 20 (no. 12)"."""
        is_guest = any(visitor.name == name for visitor, _ in self.guests)
        return f"{LAPTOP} in {name.partition(' of ')[2]}" if is_guest else name

    def _shown(self, slips: Sequence[Slip]) -> tuple[object, ...]:
        network = build(self.scenario, with_slips(self.key, slips)).network
        running, tried = try_network(self.scenario, network, self.guests, with_controls=False)
        again = [trial.run(running).works for trial in renewals(self.scenario)]
        leases = [each.outcome if isinstance(each.outcome, Lease) else None for each in tried]
        return (*((each.name, each.works) for each in tried), *leases, *again)

    def _pools_serve(self, slips: Sequence[Slip]) -> bool:
        """Whether every pool holds the leases that its network needs, and does not begin with a station's own address: whoever is
        offered that declines it, and asks again later (RFC 2131 3.1).
        """
        answers = with_slips(self.key, slips)
        fixed = {
            answers.get(stations.STATION_ADDRESS, StationRow(each.name))
            for each in self.scenario.stations
            if each.fixed_number is not None
        }
        for vlan in self.scenario.dhcp_vlans:
            row = subnets.row_of(vlan.id)
            first, last = answers.get(pools.POOL_FIRST, row), answers.get(pools.POOL_LAST, row)
            assert first is not None
            assert last is not None
            if first in fixed or int(last) - int(first) + 1 < leases_served(self.scenario, vlan.id):
                return False
        return True


# --- Which tests tell -------------------------------------------------------------------------------------------------


def _every_one_of(faults: Sequence[Slip]) -> set[int]:
    return set(range(1, len(faults) + 1))


def _shown_by(tests: Iterable[Tryout]) -> set[int]:
    return {fault for each in tests for fault in each.shows}


def _telling_of_each(
    faults: Sequence[Slip], telling: Sequence[Tryout], many: int, rng: random.Random
) -> list[Tryout] | None:
    """So many of the tests, and among them one at least for each fault that any shows; None where there are not as many."""
    chosen: list[Tryout] = []
    for fault in sorted(_every_one_of(faults)):
        if fault not in _shown_by(chosen):
            showing = [each for each in telling if fault in each.shows]
            chosen += rng.sample(showing, min(1, len(showing)))
    rest = [each for each in telling if each not in chosen]
    if not len(chosen) <= many <= len(chosen) + len(rest):
        return None
    return [*chosen, *rng.sample(rest, many - len(chosen))]
