"""`trainer practise` without a name: what is secure, what is due, what comes next and why. Enter begins."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.commands import quick
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
from trainer.study.replay import DAYS_TO_SECURE, Study, replayed
from trainer.study.today import AT_ONCE, Today, of_concept, of_today, round_of, round_of_today, weak, why_next
from trainer.study_files import StudyLog, log_of, meant_learner

__all__ = ["Wishes", "run", "screen_lines"]

_SECONDS_A_QUESTION = 40
_STARTS = {"1": -1, "2": 0, "3": 1, "": -1}
WORDS = """Words you can type here, each with Enter:
  (Enter alone)       begins what stands at Due today and Next
  quick [CONCEPT]     short questions; quick range asks about one concept
  learn [CONCEPT]     writes a lesson to read, with a picture
  lab [EXERCISE]      a lab to fill in
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


def run(
    out: Path,
    wishes: Wishes,
    *,
    lab: Callable[[str | None], int],
    others: dict[str, Callable[[str | None], int]],
    asks: quick.Asker = quick.run_round,
    world: StudyWorld | None = None,
) -> int:
    """Shows the screen and obeys, until somebody leaves.

    lab: takes up a lab of an exercise; others: what else can be typed, by its word, each with what stands behind it; asks: where
    short questions are asked.
    """
    world = StudyWorld() if world is None else world
    log = log_of(out, wishes.learner)
    _begin(log, out, wishes, world)
    first = () if wishes.after is None else _after(wishes.after)
    while True:
        found = log.read()
        study = replayed(found, concept_of)
        today = of_today(study, world.moment.day)
        screen = screen_lines(study, today, world.moment.day, first)
        say(*screen, *_remarks(found, study, today, world.moment.day, log.file))
        line = world.ask("> ")
        if line is None:
            return 0
        word, _, rest = line.strip().partition(" ")
        rest = rest.strip()
        try:
            match word.casefold():
                case "quit":
                    return 0
                case "" if kinds := round_of(first, today.right):
                    asks(log, study, kinds, world, what="after")
                    first = ()
                case "":
                    _go_on(log, study, today, world, asks)
                case "quick":
                    _quick(rest, log, study, today, world, asks)
                case "lab":
                    return lab(rest or None)
                case known if known in others:
                    others[known](rest or None)
                case _:
                    say(WORDS)
        except TrainerError as error:
            say(str(error), style="red")
        say()


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


def _go_on(log: StudyLog, study: Study, today: Today, world: StudyWorld, asks: quick.Asker) -> None:
    kinds = round_of_today(today, world.rng)
    if kinds:
        asks(log, study, kinds, world)
    else:
        say("Nothing is due, and what comes next is done for today. A whole lab: lab two-switches")


def _quick(name: str, log: StudyLog, study: Study, today: Today, world: StudyWorld, asks: quick.Asker) -> None:
    if not name:
        _go_on(log, study, today, world, asks)
        return
    concept = quick.concept_called(name)
    kinds = of_concept(concept, today.right)
    if kinds:
        asks(log, study, kinds, world)
    else:
        say(quick.nothing_to_ask(concept))


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
        yield f"Next       {_next(today)}"
    if study.until is not None and study.until > clock:
        left = how_many((study.until - clock).days, "day")
        yield f"Until      {study.until.isoformat()}, {left} from today: questions come back sooner"
    yield "Enter begins. Or: quick, learn, lab, progress, quit."


def _learning(concept: Concept, study: Study) -> str:
    row = study.concepts[concept].row
    if not row:
        return concept.title
    return f"{concept.title}: {how_many(row, 'day')} in a row right, {DAYS_TO_SECURE} make it secure"


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


def _next(today: Today) -> str:
    if today.next is not None:
        return f"{today.next.title}, short questions, about 5 minutes. Why: {why_next(today.next)}."
    if today.rests:
        done = listed([each.title for each in today.rests])
        return f"{done}: done for today, again tomorrow. Three days hold longer than one."
    return "a whole lab, now and then: lab two-switches. Why: every concept is secure."


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
