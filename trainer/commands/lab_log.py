"""What is written into the learner's log while somebody fills in a practice lab."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field

from trainer.commands.quick import comes_back, how_it_went
from trainer.commands.study_world import StudyWorld
from trainer.errors import TrainerError
from trainer.lab.concepts import Concept
from trainer.marking.practice import Progress
from trainer.study.asks import concept_of
from trainer.study.events import Event, Session, Tried
from trainer.study.lab_tries import lab_tries
from trainer.study.replay import events_that_count, replayed
from trainer.study_files import StudyLog

__all__ = ["LabLog"]


@dataclass
class LabLog:
    """One session with a lab. Where the log cannot be written this is said, and tried again with the next look."""

    log: StudyLog
    world: StudyWorld
    session: str = field(default_factory=lambda: secrets.token_hex(4))
    _waiting: list[Event] = field(init=False)
    """What is still to be written before the tries."""
    _asks: set[str] = field(default_factory=set)
    """Kinds of questions of which something was noted."""
    _has_ended: bool = False

    def __post_init__(self) -> None:
        self._waiting = [Session(session=self.session, what="lab")]

    def begin(self) -> list[str]:
        """Notes that the session begins; gives what to say where that cannot be done."""
        return self._add([])

    def note(self, progress: Progress, since: Progress) -> list[str]:
        """Notes what was tried since then and is not noted yet; gives what to say where that cannot be done."""
        try:
            known = [event for _, event in events_that_count(self.log.read()) if isinstance(event, Tried)]
        except TrainerError as error:
            return [str(error)]
        return self._add(lab_tries(progress, since, self.session, known))

    def end(self, progress: Progress, since: Progress) -> list[str]:
        """Notes what is left, and that the session ends; gives what comes back when. Nothing, when it is asked again."""
        if self._has_ended:
            return []
        troubles = self.note(progress, since) or self._add([Session(session=self.session, what="lab", ends=True)])
        if troubles:
            return troubles
        self._has_ended = True
        study, day = replayed(self.log.read(), concept_of), self.world.moment.day
        return [*how_it_went(self._asks, study, day), *comes_back(self._asks, study, day, _title)]

    def _add(self, tries: Sequence[Event]) -> list[str]:
        events = [*self._waiting, *tries]
        if not events:
            return []
        try:
            self.log.add(events, self.world.moment)
        except TrainerError as error:
            return [str(error)]
        self._waiting.clear()
        self._asks |= {each.ask for each in tries if isinstance(each, Tried)}
        return []


def _title(ask: str) -> str:
    concept = concept_of(ask)
    assert isinstance(concept, Concept), "what is noted belongs to a concept"
    return concept.title
