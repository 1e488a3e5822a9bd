"""What to put right first: which causes cost the network most, by themselves and by what they bring about or hide."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.lab.questions import SECTIONS
from trainer.marking.feedback import Message
from trainer.marking.marks import Verdict

__all__ = ["Cause", "causes"]

_FOLLOWER = Fraction(1, 10)
"""What a right cell that follows from an error counts beside its marks: it would have to be changed, too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """Something that is not right, and which error to begin with for it."""

    message: Message
    begin_at: str
    """Where the error stands that it follows from or is hidden by, as in titles; "" where it is to be looked at by itself."""
    shows_once: str
    """What has to be done before it shows, where it is hidden: "Subnets, 40: Mask is right"; "" where it is not."""

    @property
    def is_brought(self) -> bool:
        """Whether another error comes before it."""
        return bool(self.begin_at)


def causes(said: Sequence[Message], blank: Collection[str] = ()) -> tuple[Cause, ...]:
    """All that is not right, those first by which the network loses most: so many trials go wrong in an otherwise right
    network because of them, or because of what follows from them or is hidden by them; then those that cost most marks.

    What follows from another error, or is hidden by one, stands behind all others and names that error: the root, from which
    nothing else comes first. Of errors that hide each other the one that loses most is the root. A sheet on which nothing
    stands is no error to begin with: what it hides stands in its place, and is said to wait for it.

    blank: the sections on whose sheets nothing stands; no message is about them.
    """
    above = {id(each): _above(each, said) for each in said}
    places = {id(each): place for place, each in enumerate(said)}
    roots = {id(each): _root(each, above, places) for each in said}
    lost: dict[int, int] = {}
    worth: dict[int, Fraction] = {}
    for each in said:
        root = id(roots[id(each)])
        lost[root] = lost.get(root, 0) + each.loses
        own = each.lost + each.followers * _FOLLOWER
        # What is hidden by an error that is not among these cannot show before that one is found.
        is_hidden = bool(each.masked_by) and roots[id(each)] is each
        worth[root] = worth.get(root, Fraction(0)) + (own / 2 if is_hidden else own)

    def rank(each: Message) -> tuple[bool, int, Fraction]:
        root = roots[id(each)]
        is_hidden = bool(root.masked_by) and not root.first_errors
        loses = lost[id(root)]
        return root is not each, -(loses // 2 if is_hidden else loses), -worth[id(root)]

    return tuple(_cause(each, roots[id(each)], blank) for each in sorted(said, key=rank))


def _cause(message: Message, root: Message, blank: Collection[str]) -> Cause:
    is_brought = root is not message
    is_hidden = is_brought and not message.first_errors
    waits = any(place.split()[0] in blank for place in (*message.masked_by, *root.masked_by))
    done = [_done(root)] if is_hidden else []
    if waits and not message.first_errors:
        done.append("the empty sheets are filled in")
    return Cause(
        message=message,
        begin_at=_called(root) if is_brought else "",
        shows_once=" and ".join(done),
    )


def _above(message: Message, said: Sequence[Message]) -> Message | None:
    """The error that it follows from; else the one that hides it, of several the one by which the network loses most."""
    others = [each for each in said if each is not message]
    followed = [each for each in others if message.first_errors & each.cells]
    hiding = [each for each in others if message.masked_by & each.stands_in]
    return max(followed or hiding, key=lambda each: (each.loses, each.lost), default=None)


def _root(message: Message, above: Mapping[int, Message | None], places: Mapping[int, int]) -> Message:
    """The error from which nothing else comes first; where errors hide each other in a ring the heaviest of the ring."""
    way = list(_way(message, above))
    last = above[id(way[-1])]
    if last is None:
        return way[-1]
    ring = way[next(place for place, each in enumerate(way) if each is last) :]
    return max(ring, key=lambda each: (each.loses, each.lost, -places[id(each)]))


def _way(message: Message, above: Mapping[int, Message | None]) -> Iterator[Message]:
    """The message, the error before it, and so on, each once."""
    seen: set[int] = set()
    here: Message | None = message
    while here is not None and id(here) not in seen:
        seen.add(id(here))
        yield here
        here = above[id(here)]


def _called(message: Message) -> str:
    """Where it stands; of rows that were not written the sheet alone."""
    cell, sheet = message.words.cells[0], SECTIONS[message.section]
    if cell.verdict in (Verdict.MISSING, Verdict.BLANK):
        return f"sheet {sheet.title}"
    return f"{sheet.title}, {cell.row}: {sheet.question(cell.question).heading}"


def _done(message: Message) -> str:
    """What has to be done with it."""
    match message.words.cells[0].verdict:
        case Verdict.MISSING:
            return f"the missing rows of sheet {SECTIONS[message.section].title} are written"
        case Verdict.BLANK:
            return f"the empty cells of sheet {SECTIONS[message.section].title} are filled in"
        case _:
            return f"{_called(message)} is right"
