"""The feedback page: one HTML file that needs no network and no script. What is true of several cells is said once."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.feedback import SIGNS, Message, messages, sign
from trainer.marking.marks import Marked, shown
from trainer.pages.template import template

__all__ = ["write_feedback_page"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _SectionView:
    title: str
    marks: str
    out_of: str
    width: str
    """Length of the bar, in per cent of its frame."""
    right: int
    asked: int
    to_look_at: tuple[Message, ...]
    right_otherwise: tuple[Message, ...]
    """Cells that earn their marks although they differ from the key."""


def write_feedback_page(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> bytes:
    """The page for one trainee, showing as much as the exercise lets trainees see."""
    views = []
    for section in marked.sections:
        cells = [cell for cell in marked.cells if cell.section == section.section]
        asked = [cell for cell in cells if cell.out_of]
        share = section.marks * 100 / section.out_of if section.out_of else Decimal(0)
        said = messages(cells, scenario.reveal)
        views.append(
            _SectionView(
                title=SECTIONS[section.section].title,
                marks=shown(section.marks),
                out_of=shown(section.out_of),
                width=f"{share:.1f}",
                right=sum(cell.verdict.is_full for cell in asked),
                asked=len(asked),
                to_look_at=tuple(each for each in said if not each.words.verdict.is_full),
                right_otherwise=tuple(each for each in said if each.words.verdict.is_full),
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
