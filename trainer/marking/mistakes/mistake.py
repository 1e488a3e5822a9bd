"""What a mistake is: which questions it is about, what it looks like, and what is said about it.

Mistakes know questions; questions know no mistakes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network
from typing import Any, TypeVar

from trainer.lab.form import CellRef, Question, RowKey, Section
from trainer.lab.questions import links, subnets
from trainer.lab.rows import LinkRow, PortRow, RouteRow, StationRow, VlanRow
from trainer.lab.scenario import Scenario, StationPlan, Vlan
from trainer.lab.unreadable import TextFlaw, Unreadable
from trainer.marking.dependencies import first_errors
from trainer.marking.plan_view import PlanView

__all__ = ["Charged", "Claim", "Flaw", "Mistake", "WrongCell", "always", "cannot_be_read"]


T = TypeVar("T")

_SAYS_WHERE = (subnets.NETWORK_ADDRESS, subnets.GATEWAY, links.LINK_NETWORK)
"""Questions that say where a network lies, or which gateway it has: what all other addresses are compared with."""


class Flaw(Enum):
    """In which way a cell is not right."""

    WRONG = "wrong"
    """It holds a readable value, which is not right (or, in a list, not wholly right)."""
    UNREADABLE = "unreadable"
    """It holds something that is no value of its kind."""
    BLANK = "blank"
    MISSING = "missing"
    """The row of the key that it belongs to was not written at all."""
    EXTRA = "extra"
    """The row it stands in is asked for by no rule."""


class Claim(Enum):
    """What a consequence says of a network that is right but for this mistake: the sort of trial that shows it.

    Tests make that network and try it (tests/marking/test_true_texts.py), so a claim has to hold in every lab.
    """

    NO_LEASE = "a client gets no lease"
    NO_ANSWER = "a ping between stations, or to an address that a network needs, is not answered"
    ATTACK_PASSES = "an attack gets through that the protection should stop"
    OTHER_LEASE = "a client gets another lease: another address, mask, router, option or time"
    NO_HARM = "all that is tried goes as it should, and the words say no more than that it may not stay so"
    NONE = "nothing that a trial shows in every lab: a plan, a value predicted, a refusal, what may happen some day"


class Charged(Enum):
    """How often a mistake is charged that is made in several cells of a sheet (R15)."""

    EACH_TIME = "each time"
    """An error of knowledge: every cell asks for it anew. A slip too that is another one each time."""
    ONCE = "once a sheet"
    """A slip of form: unit, notation, or one rule misread alike, so that every cell is the right one rewritten the same way."""
    ONE_ROW = "in one row of a sheet"
    """Exchanged columns: the two cells of the first row."""


@dataclass(frozen=True, kw_only=True)
class WrongCell:
    """A cell that is not right, and the plan that it stands in."""

    plan: PlanView
    """The whole form, seen as a plan; one for all its cells."""
    section: Section[Any]
    question: Question[Any, Any]
    flaw: Flaw
    row: RowKey
    """The row as the trainee's sheet calls it: "561", "A-B", "Route 1". For a missing row the key's name of it."""
    key_row: RowKey | None
    """The row of the key it was matched with: for fixed rows the same as row; None for an extra row."""
    value: Any
    """The value read from it; None where there is none."""
    expected: Any
    """What is right here, given the trainee's own earlier answers; None for an extra row."""
    unreadable: Unreadable | str | None
    """What keeps its text from being read; a sentence, where something else stands there than was meant; None where it can
    be read, or nothing stands there."""

    @property
    def ref(self) -> CellRef:
        """Where it stands on the trainee's sheet."""
        return CellRef(self.question.id, self.row)

    @property
    def text(self) -> str:
        """What stands in the cell, tidied; "" where it is blank or missing."""
        return self.plan.texts.get(self.ref, "")

    @property
    def scenario(self) -> Scenario:
        """The lab that the form is about."""
        return self.plan.scenario

    # What the row is about --------------------------------------------------------------------------------------------

    @cached_property
    def station(self) -> StationPlan | None:
        """The station that the row is about, on the sheets that have a row for a station."""
        match self.key_row:
            case StationRow(station=name):
                return self.scenario.station_by_name.get(name)
            case PortRow(port=port):
                return self.plan.station_at(port)
            case _:
                return None

    @cached_property
    def vlan(self) -> Vlan | None:
        """The VLAN that the row is about; None on sheets where a row is about something else."""
        match self.key_row:
            case VlanRow(vlan=vlan) | RouteRow(vlan=vlan):
                return None if vlan is None else self.scenario.vlan_by_id.get(vlan)
            case _:
                return None if self.station is None else self.scenario.vlan_by_id.get(self.station.vlan)

    @cached_property
    def mended(self) -> PlanView:
        """The plan in which this cell is right, where it says itself where a network lies or which gateway it has. Of any
        other value the plan has what the trainee wrote.
        """
        if self.key_row is None or self.question not in _SAYS_WHERE:
            return self.plan
        return self.plan.with_right(CellRef(self.question.id, self.key_row), self.expected)

    @cached_property
    def network(self) -> IPv4Network | None:
        """The network that the row is about, as it follows from the trainee's other cells."""
        if isinstance(self.key_row, LinkRow):
            return self.mended.link_networks[self.key_row.link]
        return None if self.vlan is None else self.mended.networks[self.vlan.id]

    @cached_property
    def gateway(self) -> IPv4Address | None:
        """The gateway of the VLAN that the row is about; what is right there where the cell asks for it."""
        return None if self.vlan is None else self.mended.gateways[self.vlan.id]

    @cached_property
    def other_networks(self) -> tuple[IPv4Network, ...]:
        """All networks of the trainee's plan, as far as it is written, but the one that the row is about."""
        own = self.key_row if self.vlan is None else subnets.row_of(self.vlan.id)
        return tuple(network for row, network in self.plan.written_networks.items() if row != own)

    @property
    def other_gateways(self) -> frozenset[IPv4Address]:
        """The gateways of the VLANs that the row is not about."""
        own = None if self.vlan is None else self.vlan.id
        return frozenset(address for vlan, address in self.mended.gateways.items() if vlan != own)

    # What stands in the cell, and beside it ---------------------------------------------------------------------------

    def holds(self, value: Any) -> bool:
        """Whether the cell has that value."""
        return bool(self.value == value)

    def is_in(self, *networks: IPv4Network | None) -> bool:
        """Whether the address in the cell lies in one of the networks."""
        return any(network is not None and self.value in network for network in networks)

    @property
    def offset(self) -> int:
        """How far the number or address in the cell is above the right one; below it, less than 0."""
        return int(self.value) - int(self.expected)

    def beside(self, question: Question[T, Any]) -> T | None:
        """What the trainee wrote in another cell of the same row; None where there is nothing readable."""
        return self.plan.answers.get(question, self.row)

    def right_by_plan(self, question: Question[T, Any], row: RowKey) -> T:
        """What would be right in any row of the key, worked out from the trainee's usable values."""
        return question.answer(self.scenario, self.plan.so_far, row)

    @cached_property
    def first_errors(self) -> tuple[CellRef, ...]:
        """Where the errors stand from which the written value follows; none where it follows from nothing written."""
        if self.key_row is None or self.value is None or not self.follows_as_written:
            return ()
        return first_errors(self.scenario, self.plan.answers, self.plan.as_written, self.question, self.key_row)

    @cached_property
    def follows_as_written(self) -> bool:
        """Whether the value is what comes of all that the trainee wrote before, usable or not."""
        if self.key_row is None:
            return False
        try:
            return self.holds(self.question.answer(self.scenario, self.plan.as_written, self.key_row))
        except ValueError:
            return False

    def meets_others(self, network: IPv4Network) -> bool:
        """Whether a network shares addresses with one of the plan that the row is not about."""
        return any(network.overlaps(each) for each in self.other_networks)


def cannot_be_read(*flaws: TextFlaw) -> Callable[[WrongCell], bool]:
    """The predicate of a text that is no value of its kind because of one of these flaws."""
    return lambda cell: isinstance(cell.unreadable, Unreadable) and cell.unreadable.flaw in flaws


def always(_cell: WrongCell) -> bool:
    """The predicate of what is said where nothing nearer fits."""
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """An entry of the catalogue."""

    id: str
    """Stable for ever: it is counted in results and stands in JSON."""
    questions: frozenset[str]
    """Ids of the questions it can be made in."""
    priority: int
    """Of several that fit, the lowest is the one that is said; then the one that stands first."""
    charged: Charged
    """How often it is charged on a sheet."""
    fits: Callable[[WrongCell], bool]
    """Asked only about cells of its questions and flaws, and never about a right value: `explain` sees to that. Raises
    nothing."""
    explanation: str
    """What is wrong and why: at most two sentences and 40 words. {given} is what the trainee wrote, {root} where the errors
    stand from which it follows.
    """
    consequence: str = ""
    """One thing that can be seen in the network because of it. None of its own: what comes of any wrong prediction in cells of
    its questions (`predicted.py`).
    """
    claim: Claim
    """The part of the consequence that trials confirm, where the cell or its row configures a device."""
    hint: str
    """A question that leads on and does not give the answer away."""
    source: str
    """Standard and section, or "common practice, no source"."""
    flaws: frozenset[Flaw] = frozenset({Flaw.WRONG})
    credit: Fraction = Fraction(0)
    """What the cell earns all the same: nothing, or RIGHT_IDEA."""
