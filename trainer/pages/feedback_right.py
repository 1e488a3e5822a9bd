"""What a feedback page says of cells in which there is nothing to put right, and how parts are put in words there."""

from collections.abc import Iterable, Iterator, Sequence

from trainer.lab.questions import QUESTIONS
from trainer.listing import how_many, listed
from trainer.marking.feedback import SIGNS, Message
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.said import Label, Part
from trainer.pages.blocks import Block, Bullets, Card, Fold, Strong, Tone, Words

__all__ = ["labelled", "right_otherwise", "struck_out"]

_TOLD_OF_RIGHT = frozenset({Label.DECISION, Label.REMARK, Label.EXPLANATION})
"""What is said of a cell that is right, in one line."""


def right_otherwise(said: Sequence[Message], *, full: bool) -> Iterator[Block]:
    """What is right though not as in the key; on paper only what the instructor decided, and how many others there are.

    full: whether paper shows what is folded as well.
    """
    decided = [each for each in said if each.words.text(Label.DECISION)]
    rest = [each for each in said if each not in decided]
    for some, is_printed in ((decided, True), (rest, full)):
        if some:
            card = Card(
                tone=Tone.GOOD,
                sign=SIGNS[Verdict.FOLLOWS],
                title="Right, though not as in the key",
                blocks=(Bullets(tuple(_told(each) for each in some)),),
            )
            count = sum(len(each.cells) for each in some)
            title = f"{SIGNS[Verdict.FOLLOWS]} {how_many(count, 'cell')} right, though not as in the key"
            yield card if is_printed else Fold(title=title, blocks=card.blocks, is_for_screen=True)


def struck_out(cells: Iterable[CellMark]) -> Iterator[Card]:
    """What the instructor took out for everybody, by its reason: a line, whatever stands in the cells."""
    columns: dict[str, dict[str, None]] = {}
    for cell in cells:
        if cell.verdict is Verdict.STRUCK:
            columns.setdefault(cell.decision, {})[QUESTIONS[cell.question].heading] = None
    if columns:
        items = tuple((f"{listed(list(headings))}: {reason}",) for reason, headings in columns.items())
        sign_of_it = SIGNS[Verdict.STRUCK]
        yield Card(tone=Tone.GOOD, sign=sign_of_it, title="Struck out by the instructor", blocks=(Bullets(items),))


def _told(message: Message) -> Words:
    where = "; ".join(
        f"{row.row}: {', '.join(cell.heading for cell in row.cells)}" if row.cells else row.row for row in message.rows
    )
    told = [labelled(part) for part in message.parts if part.label in _TOLD_OF_RIGHT]
    return (f"{where or message.about}.", *(inline for words in told for inline in (" ", *words)))


def labelled(part: Part) -> Words:
    """A part behind the words of its label."""
    return (Strong(f"{part.label.words}: "), part.text) if part.label.words else (part.text,)
