"""What a page is made of. Every page is a Document of blocks; html.py and pdf.py know how blocks look, nothing else does."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import Enum
from typing import ClassVar

from trainer.pages.drawing import Drawing

__all__ = [
    "Bar",
    "Beside",
    "Block",
    "Bullets",
    "Card",
    "Code",
    "Document",
    "Emphasis",
    "Figure",
    "Fold",
    "Inline",
    "Labels",
    "Link",
    "Listing",
    "Notice",
    "Paper",
    "Paragraph",
    "Section",
    "Steps",
    "Strong",
    "Table",
    "Tone",
    "Typed",
    "Words",
    "plain",
    "texts_of",
]


class Paper(Enum):
    """What is printed on."""

    A4 = "a4"
    LETTER = "letter"


class Tone(Enum):
    """What a card is about. Each has a border of its own, so that it is not told by colour alone."""

    GOOD = "good"
    PART = "part"
    BAD = "bad"


# --- Inside a line ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Code:
    """What somebody wrote, or writes into a device: monospaced."""

    kind: ClassVar = "code"
    text: str


@dataclass(frozen=True, slots=True)
class Strong:
    kind: ClassVar = "strong"
    text: str


@dataclass(frozen=True, slots=True)
class Emphasis:
    kind: ClassVar = "emphasis"
    text: str


@dataclass(frozen=True, slots=True)
class Link:
    """Leads to a place on the same page ("#anchor") or to a file beside it; on paper it is its text alone."""

    kind: ClassVar = "link"
    text: str
    to: str


Inline = str | Code | Strong | Emphasis | Link
Words = tuple[Inline, ...]


# --- Blocks -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Paragraph:
    kind: ClassVar = "paragraph"
    words: Words
    is_lead: bool = False
    """Whether it introduces what follows, and is not to be parted from it."""


@dataclass(frozen=True, slots=True)
class Notice:
    """What is not to be overlooked."""

    kind: ClassVar = "notice"
    words: Words


@dataclass(frozen=True, slots=True)
class Bullets:
    kind: ClassVar = "bullets"
    items: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Listing:
    """A list whose items may hold several paragraphs, lists and more."""

    kind: ClassVar = "listing"
    items: tuple[tuple["Block", ...], ...]
    first: int | None
    """The number of the first item; None where they are not numbered."""


@dataclass(frozen=True, slots=True)
class Typed:
    """Lines as somebody types them: monospaced, none of them joined."""

    kind: ClassVar = "typed"
    text: str


@dataclass(frozen=True, slots=True)
class Steps:
    """Something step by step: folded on a screen, open on paper."""

    kind: ClassVar = "steps"
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """A share as a bar; a table says it in words as well."""

    kind: ClassVar = "bar"
    percent: Decimal
    """0 to 100."""


Cell = Words | Bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with a head that is repeated on every page it runs over."""

    kind: ClassVar = "table"
    title: str
    """Shown above it, and read out for it."""
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    codes: frozenset[int] = frozenset()
    """Columns (from 0) with addresses and the like, which are monospaced and never broken."""
    numbers: frozenset[int] = frozenset()
    """Columns with figures, which end below each other."""
    unbroken: frozenset[int] = frozenset()
    """Other columns whose texts are short and stay in one line."""
    names_rows: bool = True
    """Whether the first column says what its row is about."""
    is_form: bool = False
    """Whether empty cells are to be filled in by hand."""
    in_two: bool = False
    """Whether paper has the second half of its rows beside the first: it is long, and not broad."""
    shows_title: bool = True
    is_whole: bool = False
    """Whether paper does not part it: it is short."""

    @property
    def groups(self) -> tuple[tuple[tuple[Cell, ...], ...], ...]:
        """The rows; a row whose first cell is empty belongs to the one above, and is not parted from it on paper."""
        found: list[list[tuple[Cell, ...]]] = []
        for row in self.rows:
            if found and self.names_rows and not row[0]:
                found[-1].append(row)
            else:
                found.append([row])
        return tuple(map(tuple, found))

    @property
    def halves(self) -> tuple["Table", ...]:
        """The table, or where paper has them beside each other its two halves."""
        if not self.in_two:
            return (self,)
        half = (len(self.rows) + 1) // 2
        return tuple(replace(self, rows=rows, in_two=False) for rows in (self.rows[:half], self.rows[half:]))

    @property
    def bodies(self) -> tuple[tuple[tuple[Cell, ...], ...], ...]:
        """The rows that are not parted on paper, run by run: the groups; where none has two rows, the first two and the last two
        rows, so that none stands on a page alone.
        """
        groups = self.groups
        if len(groups) < len(self.rows):
            return groups
        rows = self.rows
        return (rows[:2], *((row,) for row in rows[2:-2]), rows[-2:]) if len(rows) > 3 else (rows,)


@dataclass(frozen=True, slots=True)
class Beside:
    """Narrow blocks that paper has beside others; a screen has them one below the other."""

    kind: ClassVar = "beside"
    left: tuple["Block", ...]
    right: tuple["Block", ...]
    is_whole: bool = False
    """Whether paper does not part them: they are short."""


@dataclass(frozen=True, slots=True)
class Figure:
    kind: ClassVar = "figure"
    drawing: Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A remark in a box, with a sign."""

    kind: ClassVar = "card"
    tone: Tone
    sign: str
    title: str
    blocks: tuple["Block", ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """Blocks that are folded on a screen, and open on paper."""

    kind: ClassVar = "fold"
    title: str
    blocks: tuple["Block", ...]
    is_for_screen: bool = False
    """Whether paper can do without it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A headed part of a page."""

    kind: ClassVar = "section"
    title: str
    blocks: tuple["Block", ...]
    anchor: str = ""
    on_new_page: bool = False
    is_landscape: bool = False
    """Whether paper is turned for it; it is on pages of its own then, the last of the document."""
    is_for_screen: bool = False
    """Whether paper can do without it."""


@dataclass(frozen=True, slots=True)
class Labels:
    """Small labels to cut out, all of one size."""

    kind: ClassVar = "labels"
    labels: tuple[tuple[str, str, str], ...]
    """What stands on each in large letters, below that in small ones, and in a line of its own which lab it is of."""


Block = (
    Paragraph | Notice | Bullets | Listing | Typed | Steps | Table | Beside | Figure | Labels | Card | Fold | Section
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A page of its own, or one of several in a file."""

    title: str
    """What it is; the window and the file are called so."""
    heading: str
    over: str
    """A line above the heading."""
    facts: tuple[tuple[str, str], ...]
    """Whose it is, and the like: label and value."""
    blocks: tuple[Block, ...]
    foot: str
    """A sentence at its end."""
    running: str
    """At the foot of every sheet of paper, beside the page number."""
    is_wide: bool = field(default=False)

    @property
    def ends_in_landscape(self) -> bool:
        """Whether its last pages are turned."""
        return any(isinstance(block, Section) and block.is_landscape for block in self.blocks[-1:])


def texts_of(blocks: Sequence[Block], *, on_paper: bool = False) -> list[str]:
    """All that blocks say, text by text in reading order, without their looks. For comparing what pages hold.

    on_paper: without what paper can do without.
    """
    found: list[str] = []
    for block in blocks:
        match block:
            case Paragraph() | Notice():
                found.append(plain(block.words))
            case Bullets():
                found += map(plain, block.items)
            case Listing():
                found += (text for item in block.items for text in texts_of(item, on_paper=on_paper))
            case Typed():
                found.append(block.text)
            case Steps():
                found += (block.title, *block.lines)
            case Table():
                found += ([block.title] if block.shows_title else []) + list(block.headings)
                found += [plain(cell) for row in block.rows for cell in row if not isinstance(cell, Bar)]
            case Beside():
                found += texts_of((*block.left, *block.right), on_paper=on_paper)
            case Figure():
                found.append(block.drawing.title)
            case Labels():
                found += (text for label in block.labels for text in label)
            case Section(is_for_screen=True) | Fold(is_for_screen=True) if on_paper:
                pass
            case Fold() if on_paper:
                found += texts_of(block.blocks, on_paper=True)
            case Card() | Fold() | Section():
                found += (block.title, *texts_of(block.blocks, on_paper=on_paper))
    return [text for text in found if text]


def plain(words: Words) -> str:
    """What stands in a line, without its looks."""
    return "".join(part if isinstance(part, str) else part.text for part in words)
