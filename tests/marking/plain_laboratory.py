"""Experiments in the plain way, the reference for the quick one: each network is built whole and tried whole, step by step."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from unittest.mock import patch

from step_by_step import nothing_remembered

from trainer.lab.build import build
from trainer.lab.form import Answers, SoFar
from trainer.lab.key import derive_key
from trainer.lab.trials import try_network, visitors
from trainer.marking import experiments, marker
from trainer.marking.experiments import Experiment, Laboratory, _Changed
from trainer.marking.mistakes.mistake import WrongCell

__all__ = ["PlainLaboratory", "the_plain_way"]


class PlainLaboratory(Laboratory):
    """A laboratory that takes nothing over from one network to the next."""

    def experiment(self, cells: Sequence[WrongCell]) -> Experiment:
        own, key = self._own.built.answers, derive_key(self._scenario)
        before = self._own.results
        mended = self._anew(experiments._put_right(own, cells))
        healed, alone = mended.results, self._anew(experiments._put_wrong(key, cells)).results
        right = self._anew(key).results
        stops = tuple(each for each in alone.values() if each.fails)
        both = [(each, healed[name]) for name, each in before.items() if name in healed]
        failing = {each.name: again for each, again in both if each.fails and again.fails}
        still = [failing[each.name] for each in stops if each.name in failing]
        drops = (experiments._why(mended, each) for each in still)
        altered, altered_in = experiments._altered(healed, before)
        would_alter, would_alter_in = experiments._altered(alone, right)
        return Experiment(
            stops=stops,
            heals=tuple(each for each, again in both if each.fails and again.works),
            breaks=tuple(again for each, again in both if each.works and again.fails),
            altered=altered,
            altered_in=altered_in,
            would_alter=would_alter,
            would_alter_in=would_alter_in,
            stays=bool(still),
            masked_by=next((self._mask(mended.built, drop) for drop in drops if drop is not None), None),
        )

    def _anew(self, answers: Answers) -> _Changed:
        scenario = self._scenario
        key = SoFar(scenario, self._key.values)
        built, sites = build(scenario, answers), experiments._sites(scenario, answers, key)
        guests = experiments._not_in_the_way(visitors(scenario, sites), sites, built.network)
        running, tried = try_network(scenario, built.network, guests, with_controls=False)
        return _Changed(built, running, {each.name: each for each in tried})


@contextmanager
def the_plain_way() -> Iterator[None]:
    """While it lasts papers are marked with experiments in the plain way."""
    with patch.object(marker, "Laboratory", PlainLaboratory), nothing_remembered():
        yield
