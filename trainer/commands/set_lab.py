"""One lab of a sitting: read or drawn, proved, and written, with a helper that works it out."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path

from trainer.commands.helper_process import Worker
from trainer.commands.lab_making import (
    Proved,
    ToDraw,
    ToWrite,
    class_packed,
    drawn_and_proved,
    handout_of,
    made,
    proved,
)
from trainer.commands.printing import LabPage, Printing, write_lab_page
from trainer.errors import TrainerError
from trainer.lab.draw import lab_seed, lab_slot
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario, Trainee
from trainer.store import KeptLab, Register, RegisteredLab, Sitting, write_file

__all__ = ["LabSetter", "SetLab"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLab:
    """A lab that was set."""

    scenario: Scenario
    workbook: Path
    key: Path
    handout: LabPage
    trials: int
    is_new: bool
    trouble: str = ""
    """Which of its files could not be written, and why; "" where all is well."""
    unprinted: tuple[str, ...] = ()
    """Which of its pages could not, and why. The lab is complete without them."""


@dataclass(frozen=True, kw_only=True)
class LabSetter:
    """What is the same for every lab of a run."""

    sitting: Sitting
    secret: bytes
    exercise: Exercise
    """Without trainees."""
    register: Register
    places: Mapping[str, int]
    """Of labs in the register."""
    wanted: Mapping[tuple[str, int], Trainee]
    """By id and attempt: whose labs are drawn, if they are not there yet."""
    printing: Printing

    @cached_property
    def _of_class(self) -> bytes:
        return class_packed(self.exercise, self.register.common)

    def kept_or_drawn(self, maker: Worker, lab: RegisteredLab) -> tuple[Scenario, Proved]:
        """The lab as it was saved, or drawn now for the trainee; proved, if it was not before. Raises ProofFailed."""
        trainee = self.wanted.get((lab.trainee, lab.attempt))
        if self.sitting.has_lab(lab.lab) or trainee is None:
            return self._kept(maker, self.sitting.lab(lab.lab))
        slot = lab_slot(self.secret, self.exercise, self.register.common, self.places[lab.lab])
        seed = lab_seed(self.secret, self.exercise, trainee)
        to_draw = ToDraw(self._of_class, trainee, lab.lab, slot, seed)
        return maker.call(drawn_and_proved, to_draw, has_page=self.sitting.key_page_of(trainee, lab.lab).exists())

    def _kept(self, maker: Worker, lab: KeptLab) -> tuple[Scenario, Proved]:
        """A kept lab was proved. It is proved again where anything of its key is written, or shown with its trials, and where
        what was proved has changed.
        """
        sitting, (scenario, trials) = self.sitting, lab
        has_page = sitting.key_page(scenario).exists()
        is_complete = sitting.key_file(scenario).exists() and sitting.handout_file(scenario).exists()
        if trials is None or has_page or not is_complete:
            return scenario, maker.call(proved, scenario, is_kept=True, has_page=has_page)
        return scenario, Proved(file=None, trials=trials, key_page=None)

    def written(self, brief: str | None, maker: Worker, lab: tuple[Scenario, Proved]) -> SetLab:
        """Writes what is not there yet of a lab's files. The workbook comes last: nobody gets one of a lab that is not kept.

        brief: the exercise's own. What cannot be written is told.
        """
        sitting, (scenario, proof) = self.sitting, lab
        key, workbook = sitting.key_file(scenario), sitting.handout_file(scenario)
        to_write = ToWrite(
            brief=brief,
            named=self.exercise.print_names,
            has_key=key.exists(),
            has_workbook=workbook.exists(),
        )
        files = maker.call(made, scenario, to_write)
        handout = LabPage(files.handout, partial(handout_of, scenario, to_write))
        trouble, unprinted = "", list[str]()
        try:
            if proof.file is not None:
                sitting.write_lab_file(scenario.lab_number, proof.file)
            if files.key is not None:
                write_file(key, files.key, private=True)
            if files.workbook is not None:
                write_file(workbook, files.workbook)
            unprinted = write_lab_page(sitting.handout_page(scenario), handout, self.printing)
            if proof.key_page is not None:
                page = LabPage.of(proof.key_page)
                unprinted += write_lab_page(sitting.key_page(scenario), page, self.printing, private=True)
        except TrainerError as error:
            trouble = str(error)
        return SetLab(
            scenario=scenario,
            workbook=workbook,
            key=key,
            handout=handout,
            trials=proof.trials,
            is_new=proof.file is not None,
            trouble=trouble,
            unprinted=tuple(unprinted),
        )
