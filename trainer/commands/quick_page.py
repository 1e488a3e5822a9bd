"""`trainer quick --page`: the same short questions in a browser, for small screens and screen readers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.commands.local_app import LocalApp, new_token, serve, tell_address
from trainer.commands.quick import comes_back, how_it_went, new_round
from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.pages.quick_page import QuickView, quick_html
from trainer.study.asks import concept_of
from trainer.study.events import Event, Session
from trainer.study.replay import Study, replayed
from trainer.study.round import ON_PAGE, Round
from trainer.study_files import StudyLog

__all__ = ["QuickSite", "quick_app", "run_round_on_page"]

LARGEST_FORM, MOST_FIELDS = 4096, 10
"""Bytes of what a page may send, which has some 100, and its fields."""
LONGEST_ANSWER = 200
_WORDS = ("hint", "why", "steps", "answer", "skip")


@dataclass
class QuickSite:
    """A round of questions, a question a page."""

    log: StudyLog
    asked: Round
    world: StudyWorld
    what: str = "quick"
    """What the log calls the session."""
    token: str = field(default_factory=new_token)
    is_over: bool = False
    _view: QuickView = field(init=False)
    _noted: int = 0
    """How many questions of the round are in the log."""

    def __post_init__(self) -> None:
        """The first question stands there at once."""
        self.log.add([Session(session=self.asked.session, what=self.what)], self.world.moment)
        self._view = self._next()

    def shown(self, place: str) -> bytes | None:
        """The question that waits, or what was said to the last one."""
        return None if place else quick_html(self._view)

    def file(self, _place: str) -> bytes | None:
        """There is none."""
        return None

    def take(self, form: Mapping[str, str]) -> str:
        """Does what a form asks for; a form of a question that is done does nothing."""
        do, typed, number = form.get("do", "check"), form.get("answer", "")[:LONGEST_ANSWER], form.get("number", "")
        if do == "quit":
            self._quit()
        elif number != str(self._view.number):
            self._view = replace(self._view, said=("That question is done; this is the one that waits.",))
        elif self.asked.asking is None:
            if do == "next" and self._view.state == "between":
                self._view = self._next()
        else:
            self._obey(do if do in _WORDS else typed, typed)
        return ""

    def _obey(self, line: str, typed: str) -> None:
        said = (*self.asked.obey(line), *self._note())
        if self.asked.asking is not None:
            self._view = replace(self._view, said=said, typed=typed)
        elif self.asked.waiting:
            self._view = replace(self._view, state="between", said=said, typed="")
        else:
            self._view = replace(self._view, state="done", said=(*said, *self._end()), typed="")

    def _note(self, *more: Event) -> tuple[str, ...]:
        """Writes down what is done and not noted yet; says what is wrong where that cannot be done, and tries again next time."""
        new = self.asked.done[self._noted :]
        if not new and not more:
            return ()
        try:
            self.log.add([*new, *more], self.world.moment)
        except TrainerError as error:
            return (str(error),)
        self._noted += len(new)
        return ()

    def _next(self) -> QuickView:
        lines = self.asked.ask_next()
        if not lines:
            return QuickView(state="done", head="Done", said=self._end(), number=self.asked.asked, token=self.token)
        head, *prompt = lines
        return QuickView(state="asking", head=head, prompt=tuple(prompt), number=self.asked.asked, token=self.token)

    def _end(self) -> tuple[str, ...]:
        try:
            study = replayed(self.log.read(), concept_of)
        except TrainerError as error:
            return (*self.asked.summary(), str(error))
        asks = [each.ask for each in self.asked.done]
        day = self.world.moment.day
        return (*self.asked.summary(), *how_it_went(asks, study, day), *comes_back(asks, study, day))

    def _quit(self) -> None:
        self.asked.leave()
        troubles = self._note(Session(session=self.asked.session, what=self.what, ends=True))
        said = (*troubles, *self._end())
        self._view = replace(self._view, state="over", head="Done", prompt=(), said=said, typed="")
        self.is_over = True


def quick_app(site: QuickSite) -> LocalApp:
    """The site as an application."""
    return LocalApp(site, largest_form=LARGEST_FORM, most_fields=MOST_FIELDS)


def run_round_on_page(
    log: StudyLog,
    study: Study,
    kinds: Sequence[str],
    world: StudyWorld,
    what: str = "quick",
    told: Callable[[str], None] = tell_address,
) -> None:
    """Serves a round until somebody quits there. told: gets the address of the page once it is there."""
    site = QuickSite(log=log, asked=new_round(study, kinds, world, ON_PAGE), world=world, what=what)
    try:
        serve(quick_app(site), told)
    finally:
        if not site.is_over:  # Ctrl-C in the window of the program
            site.take({"do": "quit"})
    say("Done.")
