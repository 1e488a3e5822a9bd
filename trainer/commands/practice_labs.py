"""A lab for one person who practises: drawn, proved, and written. Its key is written nowhere: it is worked out when it is asked
for.
"""

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from trainer.commands.exercises import EXERCISES, ready_made
from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, write_pages
from trainer.commands.reading import read_exercise_file, read_own_brief
from trainer.commands.set_labs import with_present_settings
from trainer.errors import TrainerError, did_you_mean
from trainer.lab.brief import practice_brief
from trainer.lab.draw import draw_lab, lab_number, lab_seed, lab_slot, seed_of
from trainer.lab.exercise import Exercise, ExerciseKind
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.scenario import Scenario, Trainee
from trainer.listing import listed
from trainer.marking.practice import Progress
from trainer.pages.brief_text import brief_parts, general_brief
from trainer.pages.handout import handout_document, worked_examples
from trainer.sheets.answer_book import write_practice_book
from trainer.store import FORMAT, Register, RegisteredLab, Sitting, write_file
from trainer.study.examples import example_for
from trainer.study.fading import filled_in
from trainer.study.labs import Wanted, can_be_asked, draw_for_practice, short
from trainer.study.next_lab import STEPS_OF
from trainer.study.support import FULL_EXAMPLE, ONLY_GIVEN
from trainer.study_files import StudyLog

__all__ = [
    "USUAL",
    "Practised",
    "TakenUp",
    "at_level",
    "example_lab",
    "exercise_called",
    "practice_folder",
    "refuse_unasked",
    "sheets_called",
    "take_up",
]

WHO = "practice"
USUAL = "two-switches"
_OF_A_CLASS = re.compile(r"^\*\*(Step|Trains|Asked|Equally hard for all):\*\*", re.IGNORECASE)
"""Paragraphs of a brief that tell what a class is asked, and how its labs are drawn; a practice lab may be another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Practised:
    """An exercise to practise on."""

    exercise: Exercise
    """Without what belongs to a class: its roll, its day, one lab for all."""
    brief: str
    """Its own brief without what is told of a class; "" where it has none."""
    steps_harder: int = 0
    """Than the standard exercise, in steps of half a logit; 0 where nobody knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenUp:
    """A practice lab that was begun or drawn."""

    scenario: Scenario
    trials: int | None
    """By how many its key was proved; None where it was drawn before."""
    is_older: bool
    """Whether the exercise was changed since it was drawn."""


def exercise_called(name: str | None) -> Practised:
    """An exercise by the stem of a ready-made one, or by the path of a workbook."""
    called = USUAL if name is None else name
    path = Path(called)
    if not path.is_file():
        stems = [each.file.stem for each in ready_made()]
        if called.casefold() in stems:
            path = EXERCISES / f"{called.casefold()}.xlsx"
        elif not path.suffix and path.name == called:
            meant = did_you_mean(called, stems)
            raise TrainerError(
                f"There is no ready-made exercise {called!r}. {f'{meant} ' if meant else ''}They are: {', '.join(stems)}. "
                "An exercise of your own is named by its file."
            )
    exercise = replace(read_exercise_file(path), trainees=(), date="", one_lab_for_all=False)
    brief = read_own_brief(path)
    paragraphs = [] if brief is None else re.split(r"\n[ \t]*\n", brief.text)
    return Practised(
        exercise=exercise,
        brief="\n\n".join(each for each in paragraphs if not _OF_A_CLASS.match(each.lstrip())),
        steps_harder=STEPS_OF.get(path.stem, 0) if path.parent == EXERCISES else 0,
    )


def at_level(practised: Practised, level: int | None) -> Practised:
    """With faults as hard to find as that, from 1 to 5; None leaves them as the exercise has them.

    Raises TrainerError where it has none.
    """
    if level is None:
        return practised
    exercise = practised.exercise
    if exercise.kind is not ExerciseKind.FAULTS:
        found = [each.file.stem for each in ready_made() if read_exercise_file(each.file).kind is ExerciseKind.FAULTS]
        raise TrainerError(
            f"{exercise.code} has no faults to find: leave --level out, or take one of {', '.join(found)}."
        )
    return replace(practised, exercise=replace(exercise, level=level, faults=None, decoys=None, counters=None))


def practice_folder(exercise: Exercise, out: Path, log: StudyLog | None = None) -> Sitting:
    """Where the labs of an exercise lie that somebody practises on; of several learners each has labs of their own."""
    whose = f".{log.called}" if log is not None and log.called else ""
    return Sitting(out / f"practice-{exercise.code}{whose}")


def sheets_called(names: str) -> tuple[str, ...]:
    """Ids of the sheets in a list such as "Subnets, Links", in the order of the form. TrainerError where there is none."""
    titles = {section.title.casefold(): section for section in FORM}
    found = set()
    for name in re.split(r"[,\s]+", names.strip()):
        section = titles.get(name.casefold())
        if section is None:
            there_are = [each.title for each in FORM]
            raise TrainerError(
                f"There is no sheet {name!r}. {did_you_mean(name, there_are) or f'There are {listed(there_are)}.'}"
            )
        found.add(section.id)
    return tuple(each for each in SECTIONS if each in found)


def refuse_unasked(sheets: Sequence[str], exercise: Exercise, scenario: Scenario) -> None:
    """Raises TrainerError where the exercise, of which the lab is one, has nothing to ask on one of the sheets."""
    offered = can_be_asked(exercise, scenario)
    refused = [SECTIONS[sheet].title for sheet in sheets if sheet not in offered]
    if refused:
        there_are = listed([SECTIONS[sheet].title for sheet in offered])
        raise TrainerError(f"{exercise.code} asks nothing on sheet {listed(refused)}. It has {there_are}.")


def take_up(practised: Practised, sitting: Sitting, wanted: Wanted, *, new: bool, new_if_done: bool = False) -> TakenUp:
    """The lab that was begun last, or another one where that is wanted: new, or with other sheets than that one.

    new_if_done: another one, too, where every cell of that one is right.

    Every file of it that is not there is written. Raises TrainerError where that cannot be done, or the exercise asks
    nothing of a sheet that is wanted; ProofFailed before a lab whose key does not work is written.
    """
    with one_run(sitting):
        sitting.create()
        register = sitting.register() if sitting.has_register else None
        begun = None if register is None or new else _begun(sitting, register, wanted)
        if new_if_done and begun is not None and sitting.progress(begun.lab_number).is_done:
            begun = None
        if begun is not None and begun.repair is not None and wanted.level is not None:
            begun = begun if begun.repair.rules == practised.exercise.repair_rules else None
        if register is not None and begun is not None:
            settled = replace(register, exercise=with_present_settings(register.exercise, practised.exercise))
            if settled != register:
                sitting.write_register(settled)
            _write_files(sitting, begun, practised)
            return TakenUp(scenario=begun, trials=None, is_older=settled.exercise != practised.exercise)
        return _drawn(practised, sitting, register, wanted, again=not new)


def _begun(sitting: Sitting, register: Register, wanted: Wanted) -> Scenario | None:
    """The lab that was begun last; None where its file is gone, or it asks other sheets than are wanted."""
    if not register.labs:
        return None
    lab = max(register.labs, key=lambda each: each.attempt).lab
    scenario = sitting.scenario(lab) if sitting.has_lab(lab) else None
    return scenario if scenario is None or wanted.sheets in ((), scenario.asked) else None


def _drawn(
    practised: Practised, sitting: Sitting, register: Register | None, wanted: Wanted, *, again: bool
) -> TakenUp:
    """Another lab. again: whether the one that was registered last is drawn if its file is gone.

    Its scenario comes first, then the register, then what is handed out: whatever breaks that off, the same lab is drawn.
    """
    exercise, secret = practised.exercise, sitting.secret()
    labs = () if register is None else register.labs
    lost = max(labs, key=lambda each: each.attempt) if labs and again else None
    if lost is not None and sitting.has_lab(lost.lab):
        lost = None
    trainee = Trainee(id=WHO, attempt=len(labs) + 1 if lost is None else lost.attempt)
    number = lab_number(secret, exercise.code, trainee, {each.lab for each in labs}) if lost is None else lost.lab
    rng = random.Random(lab_seed(secret, exercise, trainee))
    support = FULL_EXAMPLE if wanted.support is None else wanted.support
    dealt, common = draw_for_practice(exercise, support, rng)
    slot = lab_slot(secret, dealt, common, trainee.attempt - 1)
    scenario = replace(draw_lab(dealt, common, trainee, number, slot, rng), minutes=None)
    if wanted.sheets:
        refuse_unasked(wanted.sheets, exercise, scenario)
        scenario = short(scenario, wanted.sheets)
    if scenario.repair is not None:
        scenario = replace(scenario, repair=replace(scenario.repair, is_one_by_one=True))
    key = derive_key(scenario)
    trials = len(prove(scenario, key).trials)
    sitting.write_lab(scenario, key, trials)
    stands = filled_in(scenario, support)
    sitting.write_progress(Progress(lab=number, support=support, steps_harder=practised.steps_harder, filled_in=stands))
    mine = RegisteredLab(lab=number, trainee=WHO, attempt=trainee.attempt)
    labs = labs if lost is not None else (*labs, mine)
    sitting.write_register(Register(format=FORMAT, exercise=exercise, common=common, labs=labs))
    _write_files(sitting, scenario, practised)
    return TakenUp(scenario=scenario, trials=trials, is_older=False)


def example_lab(exercise: Exercise, sitting: Sitting, scenario: Scenario) -> Scenario:
    """Another lab of the exercise, by which it is shown how a row of this one is worked out; always the same one for a lab."""
    rng = random.Random(seed_of(sitting.secret(), exercise.code, scenario.lab_number, "example"))
    dealt, common = draw_for_practice(replace(exercise, rules=scenario.rules), FULL_EXAMPLE, rng)
    slots = dealt.separate_labs(common.block_length)
    slot = rng.randrange(max(slots, 1))
    return draw_lab(dealt, common, scenario.trainee, scenario.lab_number, slot, rng)


def _write_files(sitting: Sitting, scenario: Scenario, practised: Practised) -> None:
    """The page to read and the workbook, where they are not there yet."""
    page, workbook = sitting.handout_page(scenario), sitting.handout_file(scenario)
    if page.exists() and workbook.exists():
        return
    key = derive_key(scenario)
    progress = sitting.progress(scenario.lab_number)
    shows_steps = progress.support < ONLY_GIVEN
    other = example_lab(practised.exercise, sitting, scenario)
    worked = [example_for(scenario, other, section, None) for section in scenario.asked] if shows_steps else []
    examples = [each for each in worked if each is not None]
    if not page.exists():
        text = practised.brief or general_brief()
        shown = worked_examples(examples, other) if examples else ()
        document = handout_document(scenario, text, key, practice_brief(scenario), shown)
        for trouble in write_pages(page, [document], ON_SCREEN):
            raise TrainerError(trouble)
    if not workbook.exists():
        own = brief_parts(practised.brief, scenario) if practised.brief else ()
        write_file(workbook, write_practice_book(scenario, key, own, frozenset(progress.filled_in), examples))
