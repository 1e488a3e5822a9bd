"""What a fault-finding lab holds beside its network: the wrong settings, what was seen, and what else can be tried."""

from dataclasses import dataclass, field

from trainer.lab.coded import Coded

__all__ = [
    "HOSTS",
    "LAPTOP",
    "NO_FAULT",
    "Edit",
    "FaultKind",
    "OutcomeOfTest",
    "PrintedTest",
    "Repair",
    "RepairDraw",
    "RepairRules",
    "SlipKind",
    "Symptom",
    "SymptomSort",
    "WayStep",
]


HOSTS = "H"
"""What the lines of the DHCP server and of the stations begin with; those of a switch begin with its letter."""

NO_FAULT = "none"
"""What stands under Line where nothing is wrong."""

LAPTOP = "a laptop"
"""What tests call somebody at a needed address of a network, who is only there to test."""


class FaultKind(Coded):
    """What a deviation from the plan does."""

    CAUSE = "cause", "cause"
    """Something that was seen comes from it."""
    HARMLESS = "harmless", "harmless"
    """Nothing comes from it, as the network is."""


class OutcomeOfTest(Coded):
    """How a test comes out."""

    ANSWERED = "answered", "answered"
    NO_ANSWER = "no-answer", "no answer"
    ARRIVES = "arrives", "arrives"
    STOPPED = "stopped", "stopped"


class SymptomSort(Coded):
    """What kind of thing was seen. The sheet tells them in this order."""

    COMPLAINT = "complaint", "complaint"
    LEASE = "lease", "lease"
    PING = "ping", "ping"
    TABLE = "table", "table"
    ATTACK = "attack", "attack"
    COUNTER = "counter", "counter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One setting that is found otherwise than the plan has it."""

    question: str
    """Its id; of a row that is missing the section's."""
    row: str
    """As the key calls it."""
    value: str
    """As found, as its kind shows it; "" for a row that is missing."""
    line: str
    """Where it stands on the sheets Found: "A7"."""
    column: str
    """Under which heading; of a missing row the word for all of it."""
    right: str
    """What should be there; of a missing row its values with blanks between them."""
    slip: str
    """Which slip it is, of lab/repair/slips.py."""

    @property
    def is_missing_row(self) -> bool:
        return "." not in self.question


@dataclass(frozen=True, slots=True, kw_only=True)
class Symptom:
    """Something that was seen, whether it is as it should be or not."""

    id: str
    """As printed: S1."""
    sort: SymptomSort
    source: str
    """The station that asked, or the switch; "" of the server's counters."""
    target: str
    """Of a ping, and of a complaint about one."""
    tried: str
    seen: str
    faults: tuple[int, ...]
    """Which of the faults it comes from, counted from 1; none where it is as it should be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedTest:
    """Something that was not tried yet."""

    id: str
    """As printed: T1."""
    what: str
    kind: str
    source: str
    target: str
    """The trial it is, by the parts of its name (lab/trials.py: TrialName)."""
    found: OutcomeOfTest
    mended: OutcomeOfTest
    shows: tuple[int, ...] | None = field(default=None, metadata={"added later": True})
    """The faults of which each, left alone, makes it come out otherwise than mended; counted from 1. None of a lab from before
    this was kept.
    """

    @property
    def separates(self) -> bool:
        """Whether it can show that the repair was right."""
        return self.found is not self.mended

    def proves(self, fault: int) -> bool:
        """Whether it can show that this fault was mended."""
        return self.separates and (self.shows is None or fault in self.shows)


@dataclass(frozen=True, slots=True, kw_only=True)
class WayStep:
    """A step of the shortest way: after this symptom so many explanations are left."""

    symptom: str
    """Its name; "" for all together that says what fails and what does not."""
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairRules:
    """How hard a fault-finding exercise is."""

    faults: int
    """1 to 3."""
    decoys: int
    """0 to 3."""
    has_counters: bool
    """Whether the counters of server and switches are printed."""
    may_have_none: bool = field(default=False, metadata={"added later": True})
    """Whether some labs have no fault at all."""
    hides_second: bool = field(default=False, metadata={"added later": True})
    """Whether there are two faults of which the second shows only when the first is mended."""
    has_tables: bool = field(default=False, metadata={"added later": True})
    """Whether the binding tables of switches are printed, and each fault has a test that shows it. False of a sitting from before
    this was so, whose labs have to stay equally hard.
    """


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """Everything that makes a lab a fault-finding one."""

    faults: tuple[Edit, ...]
    decoys: tuple[Edit, ...]
    """Deviations that have no effect."""
    symptoms: tuple[Symptom, ...]
    tests: tuple[PrintedTest, ...]
    explanations: int
    """How many single slips, or pairs of them, were looked at."""
    vector: tuple[int, ...]
    """How many of them are left after each sort of symptom."""
    way: tuple[WayStep, ...]
    """The symptoms that tell most, one after the other."""
    rules: RepairRules | None = field(default=None, metadata={"added later": True})
    """How hard it was drawn to be; None of a lab from before this was kept."""
    is_one_by_one: bool = field(default=False, metadata={"added later": True})
    """Whether what was found and seen is not printed, but told when it is asked for (study/inquiry.py)."""
    first_line: int = field(default=1, metadata={"added later": True})
    """The number of the first line of every device."""

    @property
    def has_counters(self) -> bool:
        """Whether counters are printed."""
        return any(each.sort is SymptomSort.COUNTER for each in self.symptoms)

    @property
    def has_tables(self) -> bool:
        """Whether binding tables are printed."""
        return any(each.sort is SymptomSort.TABLE for each in self.symptoms)

    @property
    def printed_faults(self) -> int:
        """How many rows sheet Faults has; it does not tell how many deviations are causes, nor whether any is."""
        return self.most_faults + len(self.decoys) + 2

    @property
    def most_faults(self) -> int:
        """So many faults labs of the exercise have, but for those that may have none."""
        return len(self.faults) if self.rules is None else self.rules.faults

    @property
    def of_one_explanation(self) -> int:
        """How many slips explain together what is seen as found."""
        return 1 if self.hides_second else len(self.faults)

    @property
    def may_have_none(self) -> bool:
        """Whether a lab of the exercise may have no fault at all."""
        return self.rules is not None and self.rules.may_have_none

    @property
    def hides_second(self) -> bool:
        """Whether nothing is seen of the second fault until the first is mended."""
        return self.rules is not None and self.rules.hides_second


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipKind:
    """What the slips of two trainees have in common: which slip, and where in the lab by its role."""

    sort: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairDraw:
    """What all fault-finding labs of a sitting have in common."""

    rules: RepairRules
    faults: tuple[SlipKind, ...]
    decoys: tuple[SlipKind, ...]
    separating: int
    """How many of the tests come out otherwise once the faults are mended."""
    vector: tuple[int, ...]
    """How many explanations are left after each sort of symptom; of a hidden fault once more, after the first is mended."""
