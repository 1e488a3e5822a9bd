"""A wrong cell of which everything is said that can be."""

from fractions import Fraction

from trainer.lab.rows import VlanRow
from trainer.marking.explanation import Explanation
from trainer.marking.marks import CellMark, Verdict

EXPLAINED = Explanation(
    mistake="invented",
    explanation="Here is why.",
    consequence="It stops.",
    hint="Where would you look?",
    seen="With this right, 1 ping comes back.",
    rests_on="Subnets 20: Mask, right as written",
    example="In another lab it is 7.",
    derivation="rule Gateway: the first usable address",
    followed=("Subnets 20: Broadcast address",),
    steps=("ping: A to B", "A sends.", "B drops it."),
)
CELL = CellMark(
    section="subnets",
    question="subnets.gateway",
    row=VlanRow(20),
    given="10.20.2.2",
    expected="10.20.9.9",
    verdict=Verdict.WRONG,
    marks=Fraction(0),
    out_of=Fraction(1),
    explanation=EXPLAINED,
    decision="Said in class.",
)
