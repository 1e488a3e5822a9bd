"""The feedback page: one HTML file that needs no network and no script. What is true of several cells is said once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.feedback import SIGNS, Remark, remarks, sign
from trainer.marking.marks import Marked, shown
from trainer.pages.template import template

__all__ = ["write_feedback_page"]


@dataclass(frozen=True, slots=True)
class _Cell:
    heading: str
    given: str
    answer: str
    """What is right, where that may be seen."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A row and its cells; without cells one or several rows in which nothing was written at all."""

    row: str
    cells: tuple[_Cell, ...] = ()
    seen: str = ""
    """What was seen when they were tried, where it is not the same for all places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """What is said, and all the places of which it is true."""

    words: Remark
    """The first of the remarks that say it."""
    about: str
    seen: str
    """What was seen when they were tried, where it is the same for all."""
    places: tuple[_Place, ...]
    """Empty where the words are about one cell, or the title names all the cells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _SectionView:
    title: str
    marks: str
    out_of: str
    width: str
    """Length of the bar, in per cent of its frame."""
    right: int
    asked: int
    to_look_at: tuple[_Box, ...]
    right_otherwise: tuple[_Box, ...]
    """Cells that earn their marks although they differ from the key."""


def write_feedback_page(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> bytes:
    """The page for one trainee, showing as much as the exercise lets trainees see."""
    views = []
    for section in marked.sections:
        cells = [cell for cell in marked.cells if cell.section == section.section]
        asked = [cell for cell in cells if cell.out_of]
        share = section.marks * 100 / section.out_of if section.out_of else Decimal(0)
        boxes = _boxes(remarks(cells, scenario.reveal))
        views.append(
            _SectionView(
                title=SECTIONS[section.section].title,
                marks=shown(section.marks),
                out_of=shown(section.out_of),
                width=f"{share:.1f}",
                right=sum(cell.verdict.is_full for cell in asked),
                asked=len(asked),
                to_look_at=tuple(box for box in boxes if not box.words.verdict.is_full),
                right_otherwise=tuple(box for box in boxes if box.words.verdict.is_full),
            )
        )
    page = template("feedback.html.j2").render(
        scenario=scenario,
        marks=shown(marked.marks),
        out_of=shown(marked.out_of),
        percent=shown(marked.percent),
        sections=views,
        notices=notices,
        sign=sign,
        signs=SIGNS,
    )
    return page.encode("utf-8")


def _boxes(said: Iterable[Remark]) -> list[_Box]:
    """The remarks of a section, those that say the same together, in the order of the first of them."""
    alike: dict[object, list[Remark]] = {}
    for remark in said:
        words = (remark.verdict, remark.explanation, remark.consequence, remark.hint, remark.decision)
        alike.setdefault(words, []).append(remark)
    return [_box(group) for group in alike.values()]


def _box(group: Sequence[Remark]) -> _Box:
    first, count = group[0], sum(len(remark.cells) for remark in group)
    is_seen_alike = len({remark.seen for remark in group}) == 1
    seen = first.seen if is_seen_alike else ""
    if len(group) > 1:
        return _Box(words=first, about=f"{count} cells", seen=seen, places=_places(group, with_seen=not is_seen_alike))
    is_told = count == 1 or not any(cell.given for cell in first.cells)
    about = f"{first.row}: {first.questions}"
    return _Box(words=first, about=about, seen=seen, places=() if is_told else _places(group))


def _places(group: Iterable[Remark], *, with_seen: bool = False) -> tuple[_Place, ...]:
    """The cells by row; rows of which nothing but the name is to be told stand together, behind the others."""
    rows: dict[str, list[_Cell]] = {}
    seen: dict[str, list[str]] = {}
    questions = 0
    for remark in group:
        for cell in remark.cells:
            section = SECTIONS[cell.section]
            questions = len(section.questions)
            answer = remark.answer if len(remark.cells) == 1 else ""
            rows.setdefault(cell.row, []).append(_Cell(section.question(cell.question).heading, cell.given, answer))
            if with_seen and remark.seen and remark.seen not in seen.get(cell.row, ()):
                seen.setdefault(cell.row, []).append(remark.seen)
    bare = [
        row
        for row, cells in rows.items()
        if len(cells) == questions and not seen.get(row) and not any(each.given or each.answer for each in cells)
    ]
    places = [_Place(row, tuple(cells), " ".join(seen.get(row, ()))) for row, cells in rows.items() if row not in bare]
    return (*places, _Place(", ".join(bare))) if bare else tuple(places)
