"""Reading a marked workbook again: how many cells of each concept were right. Only signs are read, not marks."""

from collections import Counter
from collections.abc import Mapping

from trainer.errors import UnreadableFile
from trainer.lab.concepts import Concept, FaultConcept
from trainer.lab.questions import SECTIONS
from trainer.marking.feedback import SIGNS
from trainer.marking.marks import Verdict
from trainer.sheets.intake import ReturnedBook, ReturnedSheet
from trainer.sheets.placement import HEAD_ROW

__all__ = ["judged_in"]

_RIGHT = SIGNS[Verdict.RIGHT]
_SIGNS = frozenset(sign for verdict, sign in SIGNS.items() if verdict is not Verdict.STRUCK)


def judged_in(book: ReturnedBook) -> Mapping[Concept, tuple[int, int]]:
    """How many cells of each concept are right, and how many are judged; of finding faults nothing is said.

    Raises UnreadableFile where no sheet of the form has a sign in any cell.
    """
    signs = [each for sheet in book.sheets for each in _signs(sheet)]
    if not signs:
        raise UnreadableFile(
            "It is no marked workbook: no answer on a sheet of the form has a sign. Give the file that came back marked."
        )
    right = Counter(concept for concept, sign in signs if sign == _RIGHT)
    judged = Counter(concept for concept, _ in signs)
    return {concept: (right[concept], judged[concept]) for concept in Concept if judged[concept]}


def _signs(sheet: ReturnedSheet) -> list[tuple[Concept | FaultConcept, str]]:
    """The sign before each answer, with what its column is about."""
    section = next((each for each in SECTIONS.values() if each.title == sheet.name), None)
    if section is None:
        return []
    concepts = {each.heading: each.concept for each in section.questions}
    first = len(section.given) + 1
    columns = {
        column: concepts[cell.text.strip()]
        for (row, column), cell in sheet.cells.items()
        if row == HEAD_ROW and column >= first and cell.text.strip() in concepts
    }
    found = []
    for (row, column), cell in sorted(sheet.cells.items()):
        sign = cell.text.strip()[:1]
        if row > HEAD_ROW and column in columns and sign in _SIGNS:
            found.append((columns[column], sign))
    return found
