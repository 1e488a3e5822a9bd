"""A short question as a page with a form that works without JavaScript."""

from dataclasses import dataclass
from typing import Literal

from trainer.pages.html import filled_in

__all__ = ["QuickView", "quick_html"]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickView:
    """What stands on the page."""

    state: Literal["asking", "between", "done", "over"]
    """asking: a question waits for its answer; between: the next one may come; done: none is left; over: the program ends."""
    head: str
    prompt: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    """What is said to what was sent last."""
    typed: str = ""
    """What was typed and is not right, to be changed."""
    number: int
    """Which question it is, from 1, so that a page that was sent twice does nothing."""
    token: str


def quick_html(view: QuickView) -> bytes:
    """The page. Everything that is filled in is escaped."""
    return filled_in("quick.html.j2", view=view)
