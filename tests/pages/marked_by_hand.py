"""A lab whose marks are made by hand, one cell after the other."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from drawn_labs import bakery, exercise_of

from trainer.lab.form import RowKey
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Reveal, Trainee
from trainer.marking.explanation import Explanation
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict

LAB = replace(
    bakery(),
    trainee=Trainee(id="b01", name="Zoë Ankersø"),
    sections=exercise_of(HARBOUR).sections,
    rules=replace(bakery().rules, reveal=Reveal.ANSWERS),
)


SAID = Explanation(
    mistake="invented", explanation="Here is why.", consequence="Here is what happens.", hint="Where would you look?"
)


WRONG = CellMark(
    section="subnets",
    question="subnets.gateway",
    row=RowKey("20"),
    given="10.20.2.2",
    expected="10.20.9.9",
    verdict=Verdict.WRONG,
    marks=Fraction(0),
    out_of=Fraction("0.571"),
    explanation=SAID,
)


def marked(*cells: CellMark, marks: str = "1.5") -> Marked:
    return Marked(
        cells=cells,
        sections=tuple(
            SectionMark(section=share.section, marks=Decimal(marks), out_of=Decimal(share.share))
            for share in LAB.sections
        ),
    )
