"""`trainer practise` without a name: what is secure, what is due, what comes next and why. Enter begins."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.commands import quick
from trainer.commands.practice_labs import USUAL
from trainer.commands.study_world import StudyWorld, read_day
from trainer.commands.terminal import say
from trainer.commands.watched_reader import watched_reader
from trainer.errors import TrainerError
from trainer.lab.concepts import Concept
from trainer.listing import how_many, listed
from trainer.sheets.marked_reading import judged_in
from trainer.store import read_returned
from trainer.study.asks import concept_of
from trainer.study.events import Begun, Log
from trainer.study.next_lab import ShortLab, lab_about
from trainer.study.replay import DAYS_TO_SECURE, Study, replayed
from trainer.study.support import FULL_EXAMPLE, ONLY_GIVEN
from trainer.study.today import (
    AT_ONCE,
    Today,
    of_concept,
    of_today,
    questions_ahead,
    round_before_next,
    round_of,
    round_of_today,
    weak,
    why_next,
)
from trainer.study_files import StudyLog, log_of, meant_learner

__all__ = ["Commands", "Wishes", "run", "screen_lines", "spoken_of"]

_SECONDS_A_QUESTION = 40
_STARTS = {"1": -1, "2": 0, "3": 1, "": -1}
WORDS = """Words you can type here, each with Enter:
  (Enter alone)       begins what stands at Due today, then at Next
  quick [CONCEPT]     short questions; quick range asks about one concept
  learn [CONCEPT]     writes a lesson to read, with a picture
  lab [EXERCISE]      a lab to fill in; without a name a short one about what comes next
  progress            how far you are with each concept
  quit                leave"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What was asked for beside the screen."""

    learner: str | None = None
    until: str | None = None
    """As typed; "none" takes it back."""
    again: bool = False
    after: Path | None = None
    """A marked workbook, with whose concepts to begin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Commands:
    """What can be done from the screen."""

    lab: Callable[[str], int]
    """Takes up a lab of the exercise that is called so."""
    next_lab: Callable[[ShortLab], int]
    """Takes up the lab that comes next; another one where it is done."""
    lesson: Callable[[str, bool], int]
    """Writes the lesson of the concept that is called so; True prints it as well."""
    progress: Callable[[], int]
    asks: quick.Asker = quick.run_round
    """Where short questions are asked."""


def run(out: Path, wishes: Wishes, commands: Commands, *, world: StudyWorld | None = None) -> int:
    """Shows the screen and obeys, until somebody leaves; a lab takes the keyboard over."""
    world = StudyWorld() if world is None else world
    log = log_of(out, wishes.learner)
    _begin(log, out, wishes, world)
    first = () if wishes.after is None else _after(wishes.after)
    while True:
        found = log.read()
        study = replayed(found, concept_of)
        desk = _Desk(log=log, study=study, today=of_today(study, world.moment.day), world=world, commands=commands)
        screen = screen_lines(study, desk.today, world.moment.day, first)
        say(*screen, *_remarks(found, study, desk.today, world.moment.day, log.file))
        line = world.ask("> ")
        if line is None:
            return 0
        word, _, rest = line.strip().partition(" ")
        rest = rest.strip()
        try:
            match word.casefold():
                case "quit":
                    return 0
                case "" if kinds := round_of(first, desk.today.right):
                    commands.asks(log, study, kinds, world, what="after")
                    first = ()
                case "" if desk.today.lab is not None and not desk.today.due:
                    return commands.next_lab(desk.today.lab)
                case "":
                    desk.go_on()
                case "quick":
                    desk.quick(rest)
                case "lab":
                    return commands.lab(rest) if rest else commands.next_lab(_lab_now(study, desk.today))
                case "learn":
                    commands.lesson(rest or spoken_of(study, desk.today).title, False)
                case "progress":
                    commands.progress()
                case _:
                    say(WORDS)
        except TrainerError as error:
            say(str(error), style="red")
        say()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Desk:
    """What there is to do, as the screen says it."""

    log: StudyLog
    study: Study
    today: Today
    world: StudyWorld
    commands: Commands

    def go_on(self) -> None:
        """Asks what is due, and what comes next unless that is a lab."""
        kinds = round_before_next(self.today, self.world.rng)
        if not kinds:
            say("Nothing is due, and what comes next is done for today. A lab all the same: lab")
        elif self._is_ready_for(kinds):
            self.commands.asks(self.log, self.study, kinds, self.world)

    def quick(self, name: str) -> None:
        """Asks about one concept; without a name as Enter does, but for labs."""
        concept = None if not name else quick.concept_called(name)
        kinds = round_of_today(self.today, self.world.rng) if concept is None else of_concept(concept, self.today.right)
        if kinds:
            self.commands.asks(self.log, self.study, kinds, self.world)
        else:
            say(quick.nothing_to_ask(concept))

    def _is_ready_for(self, kinds: Sequence[str]) -> bool:
        """Whoever has never planned a subnet reads the lesson of a new concept before the first question about it."""
        concept = self.today.next
        if concept is None or not any(concept_of(ask) is concept for ask in kinds):
            return True
        state = self.study.concepts[concept]
        if state.sessions or state.level > FULL_EXAMPLE:
            return True
        say(f"{concept.title} is new to you. This first; what it says is needed for the questions.", "")
        self.commands.lesson(concept.title, True)
        line = self.world.ask("Enter when you have read it (quit goes back): ")
        return line is not None and line.strip().casefold() != "quit"


def spoken_of(study: Study, today: Today) -> Concept:
    """The concept that a lesson without a name is about: what was practised last today, else what comes next."""
    done = [each for each in today.rests if study.concepts[each].last == today.day]
    if today.next is not None and study.concepts[today.next].last == today.day:
        return today.next
    return done[0] if done else today.next or next(iter(today.rests), Concept.SIZE)


def _lab_now(study: Study, today: Today) -> ShortLab:
    """The lab that comes next; where none does, one about the concept that is learnt, or a whole one."""
    if today.lab is not None:
        return today.lab
    concept = today.next or next(iter(today.rests), None)
    return ShortLab(exercise=USUAL, sheets=()) if concept is None else lab_about(concept, study)


def _begin(log: StudyLog, out: Path, wishes: Wishes, world: StudyWorld) -> None:
    """Writes down who begins, and until when; asks once how much somebody has planned before."""
    study = replayed(log.read(), concept_of)
    until = wishes.until
    if until is not None:
        until = "" if until.casefold() == "none" else read_day(until, world.moment.day).isoformat()
    if study.start is not None and not wishes.again:
        if until is not None:
            log.add([Begun(until=until)], world.moment)
        return
    if wishes.learner is not None and study.start is None and (meant := meant_learner(out, wishes.learner)):
        say(f"There is no log of {wishes.learner!r} yet. {meant} To begin one, go on; else Ctrl-C.")
    start = _start(world)
    if start is not None:
        log.add(
            [Begun(learner=wishes.learner or study.learner, start=start, until=until, again=wishes.again)], world.moment
        )
        say(f"What you do is noted in {log.file}, and nowhere else. It is no grade.", "")


def _start(world: StudyWorld) -> int | None:
    """-1, 0 or 1; None where nobody answers."""
    say("Have you planned subnets before? 1 never, 2 a few times, 3 often.")
    while (line := world.ask("> ")) is not None:
        if line.strip() in _STARTS:
            return _STARTS[line.strip()]
        say("Type 1, 2 or 3.")
    return None


def _after(file: Path) -> tuple[Concept, ...]:
    """The concepts of a marked workbook that are not secure there, after saying how they stand.

    Raises TrainerError where the file is no marked workbook.
    """
    try:
        judged = judged_in(watched_reader.read(read_returned(file)))
    except TrainerError as error:
        raise TrainerError(f"{file}: {error}") from error
    found = weak(judged)
    told = ", ".join(f"{concept.title} {judged[concept][0]} of {judged[concept][1]}" for concept in found)
    if not judged:
        say(f"In {file.name} faults were looked for. No short question is about that; a lab is: lab faults-one")
    else:
        say(f"In {file.name} right: {told}." if found else f"In {file.name} nothing is weak.")
    return found


def screen_lines(study: Study, today: Today, clock: date, first: Sequence[Concept] = ()) -> Iterator[str]:
    """What stands on the screen.

    clock: the day by the computer's clock; first: what is taken up before all else, because of marked work.
    """
    learning = [concept for concept, state in study.concepts.items() if state.sessions and not state.is_secure]
    yield f"Secure     {', '.join(each.title for each in study.secure) or '-'}"
    yield f"Learning   {'; '.join(_learning(each, study) for each in learning) or '-'}"
    yield f"Due today  {_due(study, today)}"
    if first:
        yield f"Next       {listed([each.title for each in first])}, short questions. Why: they were weak in marked work."
    else:
        yield f"Next       {_next(study, today)}"
    if study.until is not None and study.until > clock:
        left = how_many((study.until - clock).days, "day")
        yield f"Until      {study.until.isoformat()}, {left} from today: questions come back sooner"
    yield f"{_enter(today, first)}. Or: quick, learn {spoken_of(study, today).slug}, lab, progress, help, quit."


def _enter(today: Today, first: Sequence[Concept]) -> str:
    """What the key begins."""
    if today.lab is not None and not today.due and not first:
        return "Enter begins the lab"
    count = len(round_of(first, today.right)) or questions_ahead(today)
    return f"Enter begins: {how_many(count, 'question')}" if count else "That is all for today"


def _learning(concept: Concept, study: Study) -> str:
    """How far it is from secure; days on which an example or the rule stands beside the questions do not count."""
    state = study.concepts[concept]
    if state.row:
        return f"{concept.title}: right alone on {how_many(state.row, 'day')}, {DAYS_TO_SECURE} in a row make it secure"
    if state.level >= ONLY_GIVEN:
        return f"{concept.title}: next time alone"
    return f"{concept.title}: still with {'an example' if state.level == FULL_EXAMPLE else 'the rule'} beside it"


def _due(study: Study, today: Today) -> str:
    if not today.due:
        return "nothing"
    oldest = today.due[0]
    concept = concept_of(oldest)
    assert concept is not None, "a kind that is due is known"
    minutes = max(1, round(min(len(today.due), AT_ONCE) * _SECONDS_A_QUESTION / 60))
    ago = how_many((today.day - study.cards[oldest].last).days, "day")
    more = f", {AT_ONCE} of them now" if len(today.due) > AT_ONCE else ""
    count = f"{how_many(len(today.due), 'question')}{more}, about {how_many(minutes, 'minute')}"
    return f"{count} ({concept.title}: last asked {ago} ago)"


def _next(study: Study, today: Today) -> str:
    if today.next is not None:
        what = "short questions, about 5 minutes" if today.lab is None else "a lab with one sheet, about 10 minutes"
        return f"{today.next.title}, {what}. Why: {why_next(today.next, today.waits, study.secure)}."
    if today.lab is not None:
        return f"a whole lab, {today.lab.exercise}, about an hour. Why: every concept is secure."
    if today.rests:
        done = listed([each.title for each in today.rests])
        return f"{done}: done for today, again tomorrow. Three days hold longer than one."
    return "nothing new: every concept is secure. A whole lab comes once a week; or now: lab."


def _remarks(log: Log, study: Study, today: Today, clock: date, file: Path) -> Iterator[str]:
    """What is odd about the log, said each time as long as it is so."""
    if today.day in study.open_sessions.values():
        yield "A session of today has not ended: another window is open, or it was cut off. What was done there is kept."
    if today.is_clock_back:
        yield (
            f"This computer's clock says {clock.isoformat()}, and your last practice was on {today.day.isoformat()}: days are "
            "counted from there. See whether the clock is right."
        )
    if log.torn:
        yield f"{how_many(log.torn, 'line')} of {file} could not be read and {'is' if log.torn == 1 else 'are'} read over."
    if log.edited:
        yield f"{file} was changed at {how_many(log.edited, 'place')} by something else than this program."
