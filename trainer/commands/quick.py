"""`trainer quick [CONCEPT]`: eight short questions, about five minutes. Each is noted in the log when it is done."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Protocol

from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import say
from trainer.errors import TrainerError, did_you_mean
from trainer.lab.concepts import Concept
from trainer.listing import listed
from trainer.study.asks import KINDS, called_kind, concept_of
from trainer.study.events import Session
from trainer.study.order import called
from trainer.study.replay import DAYS_TO_SECURE, SECURE_FROM, TRIES_A_DAY, Study, replayed
from trainer.study.round import TYPED, Round, Wording
from trainer.study.today import of_concept, of_today, round_of_today
from trainer.study_files import StudyLog, log_of

__all__ = ["Asker", "comes_back", "concept_called", "how_it_went", "new_round", "nothing_to_ask", "run", "run_round"]


class Asker(Protocol):
    """Asks questions of these kinds and notes them in the log."""

    def __call__(
        self, log: StudyLog, study: Study, kinds: Sequence[str], world: StudyWorld, what: str = "quick"
    ) -> None:
        """what: what the log calls the session, "after" where marked work was the reason."""


def run(
    name: str | None,
    out: Path,
    *,
    learner: str | None = None,
    world: StudyWorld | None = None,
    asks: Asker | None = None,
) -> int:
    """Asks what is due and what comes next, or about one concept alone. asks: where; the terminal by itself."""
    world = StudyWorld() if world is None else world
    concept = None if name is None else concept_called(name)
    log = log_of(out, learner)
    study = replayed(log.read(), concept_of)
    today = of_today(study, world.moment.day)
    kinds = round_of_today(today, world.rng) if concept is None else of_concept(concept, today.right)
    if kinds:
        (run_round if asks is None else asks)(log, study, kinds, world)
        say("Go on: trainer practise")
    else:
        say(nothing_to_ask(concept))
    return 0


def concept_called(name: str) -> Concept:
    """A concept by its name. Raises TrainerError where none is called so."""
    concept = called(name)
    if concept is None:
        titles = [each.title for each in Concept]
        meant = did_you_mean(name, titles)
        raise TrainerError(f"There is no concept {name!r}. {f'{meant} ' if meant else ''}They are: {listed(titles)}.")
    return concept


def nothing_to_ask(concept: Concept | None) -> str:
    """What is said where a round would hold no question."""
    if concept is not None:
        return f"{concept.title} is done for today: enough was right. More of it tomorrow holds longer than more of it now."
    return "Nothing is due, and what comes next is done for today. Tomorrow there is more: trainer practise"


def run_round(log: StudyLog, study: Study, kinds: Sequence[str], world: StudyWorld, what: str = "quick") -> None:
    """A round of questions, until the last one or until quit; what was done is in the log whatever happens.

    what: what the log calls the session, "after" where marked work was the reason.
    """
    asked = new_round(study, kinds, world)
    session = asked.session
    log.add([Session(session=session, what=what)], world.moment)
    say(*TYPED.all)
    while lines := asked.ask_next():
        say("", lines[0])
        say(*(f"  {line}" for line in lines[1:]))
        if not _answered(asked, log, world):
            break
    found = log.add([Session(session=session, what=what, ends=True)], world.moment)
    asks = [each.ask for each in asked.done]
    study, day = replayed(found, concept_of), world.moment.day
    say("", *asked.summary(), *how_it_went(asks, study, day), *comes_back(asks, study, day))


def new_round(study: Study, kinds: Sequence[str], world: StudyWorld, wording: Wording = TYPED) -> Round:
    """A round of questions of these kinds, with the help that the learner's ratings ask for."""
    return Round(
        session=f"{world.rng.getrandbits(32):08x}",
        rng=world.rng,
        waiting=list(kinds),
        level_of=lambda concept: study.concepts[concept].level,
        right_before=of_today(study, world.moment.day).right,
        wording=wording,
    )


def _answered(asked: Round, log: StudyLog, world: StudyWorld) -> bool:
    """Obeys lines until the question is done; False where somebody leaves."""
    done = len(asked.done)
    while asked.asking is not None:
        line = world.ask("> ")
        if line is None or line.strip().casefold() == "quit":
            asked.leave()
            break
        say(*(f"  {each}" for each in asked.obey(line)))
    if len(asked.done) > done:
        log.add(asked.done[done:], world.moment)
    return not asked.has_left


def how_it_went(asks: Collection[str], study: Study, clock: date) -> Iterator[str]:
    """Whether today was a right day for the concepts of these kinds, and what makes one.

    clock: the day by the computer's clock.
    """
    today = of_today(study, clock).day
    for concept in Concept:
        state = study.concepts[concept]
        if state.last != today or not any(concept_of(ask) is concept for ask in asks):
            continue
        if state.alone is None:
            yield f"{concept.title}: a day with help beside it. Days without lead to secure; they come by themselves."
            continue
        worth, count = state.alone
        if worth < SECURE_FROM * count:
            yield (
                f"{concept.title}: no right day, {worth:g} of {count} at the first try; a hint or a second try counts half, and "
                f"{SECURE_FROM * 100:g} of 100 are right."
            )
        elif state.row >= DAYS_TO_SECURE and state.is_secure:
            yield f"{concept.title}: secure."
        elif count >= TRIES_A_DAY:
            yield f"{concept.title}: a right day, {state.row} of {DAYS_TO_SECURE}."


def comes_back(
    asks: Collection[str], study: Study, clock: date, named: Callable[[str], str] = called_kind
) -> Iterator[str]:
    """When these kinds are asked again, the earliest first.

    clock: the day by the computer's clock; named: how a kind is called.
    """
    today = of_today(study, clock).day
    due: dict[str, date] = {}
    for ask in (ask for kinds in KINDS.values() for ask in kinds if ask in asks):
        if ask in study.cards:  # not where the log could not be written
            due[named(ask)] = min(study.cards[ask].due, due.get(named(ask), date.max))
    days: dict[date, list[str]] = defaultdict(list)
    for name, day in due.items():
        days[day].append(name)
    if days:
        told = ". ".join(f"{_in_days(day, today)} {'; '.join(names)}" for day, names in sorted(days.items()))
        yield f"Comes back at the latest: {told[0].lower()}{told[1:]}."


def _in_days(day: date, today: date) -> str:
    left = (day - today).days
    return "Tomorrow" if left <= 1 else f"In {left} days"
