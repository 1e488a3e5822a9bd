"""What stands filled in on a sheet to practise on: a worked row first, then a step less in every row (fading backward).

Whole examples before own work, with the last steps left out first, teach beginners more than problems alone (Renkl and
Atkinson 2003, abstract read). The level of support says where it begins.
"""

from collections.abc import Iterator

from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.study.steps import grouped
from trainer.study.support import FULL_EXAMPLE, ONLY_GIVEN

__all__ = ["filled_in"]


def filled_in(scenario: Scenario, support: int) -> tuple[CellRef, ...]:
    """The cells of the asked sheets that stand there filled in, by their rows on the sheet.

    support: 1 a full example in the first row, 2 one without its last step, 3 without its last two, 4 and 5 nothing. The last
    row is always left to do whole. Of a network with faults nothing: a row of its sheets would tell what is looked for.
    """
    if support >= ONLY_GIVEN or scenario.repair is not None:
        return ()
    return tuple(cell for section in scenario.asked for cell in _of_sheet(scenario, section, support - FULL_EXAMPLE))


def _of_sheet(scenario: Scenario, section_id: str, left_out: int) -> Iterator[CellRef]:
    """left_out: steps of the first row that are left to do."""
    section = SECTIONS[section_id]
    steps = grouped(scenario, section)
    keys = [row.key for row in section.rows(scenario)]
    names = keys if section.open is None else [section.open.named(number) for number in range(1, len(keys) + 1)]
    for place, row in enumerate(names[:-1]):
        stands = [question for step in steps[: max(len(steps) - left_out - place, 0)] for question in step]
        # a row that is written freely has to say which one it is
        if section.open is None or sum(question.match_weight for question in stands) >= section.open.least:
            yield from (CellRef(question.id, row) for question in stands)
