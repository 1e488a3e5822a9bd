"""How far one learner is, or several, in words: for the learner's own page and for the instructor's.

By name and without rank (feedback rule F7). Of a class each concept's commonest mistake is told: Monday's lesson.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from trainer.lab.concepts import Concept
from trainer.listing import listed
from trainer.marking.mistakes.catalogue import MISTAKES
from trainer.study.asks import concept_of
from trainer.study.events import Log
from trainer.study.order import RESTS_ON, is_open
from trainer.study.replay import DAYS_TO_SECURE, ConceptState, Study, replayed
from trainer.study.today import Today, of_today

__all__ = ["CommonMistake", "Overview", "Person", "overview_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One learner."""

    name: str
    """As the log says; the file's name where it says nothing."""
    study: Study
    today: Today
    edited: int
    """Places at which the log was changed by something else than this program."""
    torn: int
    """Lines of it that could not be read."""

    def word(self, concept: Concept) -> str:
        """How it stands with a concept: "secure", "learning 2 of 3", "secure, due", "-"."""
        state = self.study.concepts[concept]
        words = _state(state)
        is_due = any(concept_of(ask) is concept for ask in self.today.due)
        return f"{words}, due" if is_due else words

    def own_word(self, concept: Concept) -> str:
        """The same for the learner, to whom it is said as well what a concept that is not open waits for."""
        secure = self.study.secure
        if self.study.concepts[concept].sessions or is_open(concept, secure):
            return self.word(concept)
        return f"opens after {listed([each.title for each in RESTS_ON[concept] if each not in secure])}"

    def comes_back(self, concept: Concept) -> date | None:
        """The earliest day on which a kind of question of it is asked again; None where none was asked."""
        return min((card.due for ask, card in self.study.cards.items() if concept_of(ask) is concept), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonMistake:
    """What goes wrong most with one concept."""

    concept: Concept
    people: int
    """Who made it at a first try."""
    times: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """Several learners, in order of name."""

    people: tuple[Person, ...]
    mistakes: tuple[CommonMistake, ...]
    """One a concept at most, in the order of the concepts."""


def _state(state: ConceptState) -> str:
    if state.is_secure:
        return "secure"
    return f"learning {state.row} of {DAYS_TO_SECURE}" if state.sessions else "-"


def overview_of(logs: Sequence[tuple[str, Log]], day: date) -> Overview:
    """The overview on a day. logs: each with what the learner is called where the log does not say."""
    people = []
    for name, log in logs:
        study = replayed(log, concept_of)
        person = Person(
            name=study.learner or name,
            study=study,
            today=of_today(study, day),
            edited=log.edited,
            torn=log.torn,
        )
        people.append(person)
    people.sort(key=lambda each: each.name.casefold())
    found = (_commonest(concept, people) for concept in Concept)
    return Overview(people=tuple(people), mistakes=tuple(each for each in found if each is not None))


def _commonest(concept: Concept, people: Sequence[Person]) -> CommonMistake | None:
    """Made by the most people; of several by as many, the most often."""
    whom, times = Counter[str](), Counter[str]()
    for person in people:
        made = person.study.concepts[concept].mistakes
        whom.update(made.keys())
        times.update(made)
    known = [each for each in whom if each in _WORDS]
    if not known:
        return None
    mistake = max(known, key=lambda each: (whom[each], times[each], each))
    return CommonMistake(concept=concept, people=whom[mistake], times=times[mistake], words=_WORDS[mistake])


def _in_general(words: str) -> str:
    """What is said of a mistake, without what somebody wrote."""
    return (
        words.replace("'{given}'", "What was written")
        .replace("{given}", "What was written")
        .replace("{root}", "an earlier cell")
    )


_WORDS = {each.id: _in_general(each.explanation) for each in MISTAKES}
