"""`trainer set FILE`: a proven lab for every trainee, with workbook, handout and key."""

import json
import random
import re
import sys
import textwrap
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from trainer.commands.class_files import ClassFile, class_files, take_away_untrue
from trainer.commands.continuing import Agree, ask_on_terminal, sitting_to_set, take_over, to_take_over
from trainer.commands.helper_process import Worker
from trainer.commands.one_run import one_run
from trainer.commands.printing import (
    ON_SCREEN,
    LabPage,
    Printing,
    in_large_letters,
    write_class_file,
    write_pages,
)
from trainer.commands.reading import (
    OwnBrief,
    near_match,
    of_group,
    read_exercise_file,
    read_own_brief,
    refuse_outsiders,
    trainee_of,
)
from trainer.commands.sending import Parcel, in_words, pack, packed_as_json, renew
from trainer.commands.set_lab import LabSetter, SetLab
from trainer.commands.side_by_side import WORTH_IT, helpers, jobs_for, side_by_side
from trainer.commands.terminal import counted, say
from trainer.errors import TrainerError
from trainer.lab.announced import class_as_announced, with_announced
from trainer.lab.draw import class_seed, draw_class, lab_number
from trainer.lab.exercise import Exercise, ExerciseKind
from trainer.lab.exercise_form import SETTINGS, TABLES
from trainer.lab.fairness import equal_cells
from trainer.lab.kinds import ADDRESS
from trainer.lab.scenario import Scenario, Trainee
from trainer.listing import first_few, how_many
from trainer.pages.brief_text import brief_blocks
from trainer.pages.labels import labels_document
from trainer.pages.roll import roll_document
from trainer.sheets.overrides_book import write_overrides_book
from trainer.store import FORMAT, Register, RegisteredLab, Sitting, stem, write_file

__all__ = ["Packing", "Selection", "SetLab", "run", "selected", "set_sitting", "with_present_settings"]


_NO_LAB_RESTS_ON = frozenset({"reveal", "pass_mark", "must_work", "resits", "saved", "print_names"})
"""Settings that may be changed at any time: they say what counts, and what is shown of marks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Whom `set` is for, and which attempt; None leaves it to the workbook."""

    group: str | None = None
    trainees: Sequence[str] = ()
    attempt: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """Whether hand-outs are packed too, and whether their folders bear ids."""

    wanted: bool = False
    named: bool = False


NO_FILES: Mapping[Path, ClassFile] = {}
EVERYBODY, UNPACKED = Selection(), Packing()
_NAMED = 8
"""So many of those who have left are named."""
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
"""Names that some desktop systems keep for devices."""


def run(
    file: Path,
    out: Path,
    *,
    code: str | None,
    keys: Path | None,
    as_json: bool,
    selection: Selection = EVERYBODY,
    packing: Packing = UNPACKED,
    agrees: bool = False,
    jobs: int | None = None,
    printing: Printing = ON_SCREEN,
) -> int:
    """agrees: to what is announced otherwise now (date, minutes, places) without being asked. jobs: processes that make labs
    at a time; None leaves it to the size of the class.
    """
    every_trainee = read_exercise_file(file)
    exercise = selected(every_trainee, selection)
    code = sitting_to_set(every_trainee, out) if code is None else code
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,59}", code) or code.endswith(".") or _RESERVED.match(code):
        raise TrainerError(f"{code!r} cannot name a sitting: it names a folder, so write letters, digits and hyphens.")
    sitting = Sitting(out / code)
    if keys is not None:
        sitting.keys = keys
    with one_run(sitting):
        agree = None if agrees or as_json or not sys.stdin.isatty() else ask_on_terminal
        files: Mapping[Path, ClassFile] = NO_FILES
        if not selection.trainees:
            files = class_files(sitting, exercise.trainees, group=selection.group, attempt=selection.attempt)
        every = set_sitting(
            exercise,
            sitting,
            read_own_brief(file),
            printing,
            roll=every_trainee.trainees,
            agree=agree or (lambda _: agrees),
            attempt=selection.attempt,
            written_anew=files,
            jobs=_jobs(exercise, jobs),
        )
        wanted = {(each.id, each.attempt) for each in exercise.trainees}
        chosen = [lab for lab in every if (lab.scenario.trainee.id, lab.scenario.trainee.attempt) in wanted]
        troubles = list(_write_class_files(sitting, chosen, files, printing))
        known = {lab.scenario.lab_number: lab.scenario.trainee for lab in every}
        troubles += _write_roll(sitting, known, printing)
        labs = tuple(lab for lab in every if not lab.trouble)
        parcels = [_parcel(lab.scenario.trainee, lab.scenario.lab_number, lab.workbook) for lab in labs]
        if not selection.trainees and selection.attempt is None:
            parcels += _parcels_of_others(sitting, known, selection.group)
        packed = pack(sitting, "hand-out", parcels, named=packing.named) if packing.wanted else None
        renewed = () if packing.wanted else renew(sitting, "hand-out", parcels)
    if as_json:
        print(json.dumps(_as_json(sitting, code, labs) | packed_as_json(sitting, packed), ensure_ascii=False, indent=1))
    else:
        _print(sitting, code, labs, exercise, in_words(sitting, packed) if packed else ())
    if renewed:
        were = "was" if len(renewed) == 1 else "were"
        told = (
            f"{how_many(len(renewed), 'folder')} in {sitting.to_send / 'hand-out'} had changed and {were} written anew."
        )
        say(f"{told} To send what is new: set again with --zip.", to=sys.stderr)
    if gone := list(dict.fromkeys(each.trainee for each in sitting.register().labs if each.has_left)):
        told = "is not on sheet Trainees any more" if len(gone) == 1 else "are not on sheet Trainees any more"
        say(f"{first_few(gone, _NAMED)} {told}: left out of roll and results; labs and marks stay.", to=sys.stderr)
    for lab in every:
        if lab.trouble:
            say(f"{lab.scenario.trainee.id} has no complete lab yet: {lab.trouble}", to=sys.stderr)
    troubles = [*(each for lab in every for each in lab.unprinted), *troubles]
    for trouble in troubles:
        say(trouble, to=sys.stderr)
    return 0 if labs == every and not troubles and not printing.is_short else 1


def _parcels_of_others(sitting: Sitting, known: Collection[str], group: str | None) -> Iterator[Parcel]:
    """What was handed out of labs that the workbook does not ask for now, such as those of re-sits: nobody is left out."""
    for lab in sitting.register().labs:
        if lab.lab in known or lab.has_left:
            continue
        trainee = trainee_of(sitting, lab)
        workbook = sitting.hand_out / f"{stem(trainee, lab.lab)}.xlsx"
        if trainee.is_of(group) and workbook.is_file():
            yield _parcel(trainee, lab.lab, workbook)


def _parcel(trainee: Trainee, number: str, workbook: Path) -> Parcel:
    """What a trainee is handed out."""
    page = workbook.with_suffix(".html")
    files = {f"{number}{each.suffix}": each for each in (workbook, page, page.with_suffix(".pdf"))}
    large = in_large_letters(page)
    files |= {f"{number}-large{each.suffix}": each for each in (large, large.with_suffix(".pdf"))}
    return Parcel(trainee=trainee, lab=number, files=files)


def _write_class_files(
    sitting: Sitting, labs: Sequence[SetLab], files: Mapping[Path, ClassFile], printing: Printing
) -> Iterator[str]:
    """The handouts, and the labels for their benches, of these labs in roll order, of everybody or of a group.

    Gives what went wrong.
    """
    for file, (title, group, is_of_labels) in files.items():
        written = [lab for lab in labs if not lab.trouble and lab.scenario.trainee.is_of(group)]
        pages = (LabPage.of(labels_document(lab.scenario)) if is_of_labels else lab.handout for lab in written)
        yield from write_class_file(file, pages, len(written), printing, title=f"{title} {sitting.folder.name}")


def _write_roll(sitting: Sitting, known: Mapping[str, Trainee], printing: Printing) -> list[str]:
    """The sheet on which labs are signed for, of everybody in the class who has one. Gives what went wrong.

    known: by lab number whose labs are known already.
    """
    register = sitting.register()
    labs = [
        (replace(known[lab.lab], is_excused=lab.is_excused) if lab.lab in known else trainee_of(sitting, lab), lab.lab)
        for lab in register.labs
        if not lab.has_left
    ]
    exercise = register.exercise
    document = roll_document(f"{exercise.code} - {exercise.title}", exercise.date, labs)
    return write_pages(sitting.class_file("roll", None), [document], printing, private=True)


_COMPARED = 100
"""Labs whose keys are compared: nearly five thousand pairs tell how alike all are."""


def _print(sitting: Sitting, code: str, labs: Sequence[SetLab], exercise: Exercise, packed: Iterable[str]) -> None:
    new = [lab for lab in labs if lab.is_new]
    say(
        f"Sitting {code}: {how_many(len(labs), 'lab')}, {len(new)} of them new, every key proved ({_trials(labs)} trials each)."
    )
    shares = [each for each in equal_cells([lab.scenario for lab in labs[:_COMPARED]]) if each.share < 1]
    if shares and not exercise.one_lab_for_all:
        most = max(shares, key=lambda each: each.share)
        addresses = next((each for each in shares if each.kind == ADDRESS.name), most)
        text = (
            f"Copying helps little: in the same cell of two keys {float(addresses.share):.0%} of the addresses are alike, and "
            f"of nothing that differs more than {float(most.share):.0%} ({most.kind}). Sizes, and so masks, are alike in all."
        )
        say(textwrap.fill(text, 79, initial_indent="  ", subsequent_indent="  "))
    say(f"  For the trainees:   {sitting.hand_out}")
    say(f"  For you, the keys:  {sitting.keys}")
    say(f"  To print:           {sitting.print}")
    for line in packed:
        say(line)
    say(f"  Put what comes back into {sitting.returned}, then: trainer grade {sitting.folder}")


def selected(exercise: Exercise, selection: Selection) -> Exercise:
    """The exercise for the chosen trainees. Raises TrainerError for a group or an id that is not in the roll."""
    trainees = exercise.trainees
    if selection.group is not None:
        trainees = of_group(trainees, selection.group)
    for name in selection.trainees:
        if name.casefold() not in {each.id.casefold() for each in exercise.trainees}:
            raise TrainerError(
                f"Nobody has the id {name!r}.{near_match(name, [each.id for each in exercise.trainees])}"
            )
    if selection.trainees:
        names = {name.casefold() for name in selection.trainees}
        trainees = tuple(each for each in exercise.trainees if each.id.casefold() in names)
        if selection.group is not None:
            refuse_outsiders(trainees, selection.group)
    if selection.attempt is not None and not 1 <= selection.attempt <= 99:
        raise TrainerError(f"Attempt {selection.attempt} is none: write 1 to 99, 2 for a first re-sit.")
    if selection.attempt is not None:
        trainees = tuple(_at(each, selection.attempt) for each in trainees)
    return replace(exercise, trainees=trainees)


def _at(trainee: Trainee, attempt: int) -> Trainee:
    """The trainee at that attempt. An excuse is for the attempt its row names: a re-sit gives another chance."""
    return trainee if trainee.attempt == attempt else replace(trainee, attempt=attempt, is_excused=False)


def set_sitting(
    exercise: Exercise,
    sitting: Sitting,
    brief: OwnBrief | None = None,
    printing: Printing = ON_SCREEN,
    *,
    roll: Sequence[Trainee] = (),
    agree: Agree = lambda _: False,
    attempt: int | None = None,
    written_anew: Collection[Path] = (),
    jobs: int = 1,
) -> tuple[SetLab, ...]:
    """Draws and proves what is not there yet, then writes it. Labs that were handed out are left as they are; where what is
    announced of them has changed, and that is agreed to, they say the new.

    brief: the exercise's own; the sitting keeps the one that it was set with first. roll: of all trainees, whomever the
    exercise is set for now. attempt: that was asked for. written_anew: the pages of the class that are written afterwards; others
    that are not true any more are taken away. jobs: processes that make labs at a time.

    A file that cannot be written is told with its lab (SetLab.trouble), and the other labs go on.

    Raises TrainerError where the exercise is not the one the sitting was set with, or its brief cannot be understood;
    ProofFailed before a lab whose key does not work is written.
    """
    sitting.create()
    sitting.create_keys()
    register = _register(exercise, sitting, roll or exercise.trainees)
    renewed = {each.lab_number: each for each in to_take_over(sitting, register, roll or exercise.trainees, agree)}
    if sitting.has_register:
        register = replace(register, common=class_as_announced(register.common, register.exercise))
    exercise = replace(exercise, date=register.exercise.date)
    wanted = {(trainee.id, trainee.attempt): trainee for trainee in exercise.trainees}
    labs = [each for each in register.labs if (each.trainee, each.attempt) in wanted or each.lab in renewed]
    new = [
        trainee
        for each in labs
        if (trainee := wanted.get((each.trainee, each.attempt))) and not sitting.has_lab(each.lab)
    ]
    again = [each.trainee for each in renewed.values()]
    take_away_untrue(sitting, new, again, attempt=attempt, written=written_anew)
    take_over(sitting, renewed.values())
    setter = LabSetter(
        sitting=sitting,
        secret=sitting.secret(),
        exercise=replace(exercise, trainees=()),
        register=register,
        places={each.lab: place for place, each in enumerate(register.labs)},
        wanted=wanted,
        printing=printing,
    )
    with helpers(lambda: Worker(begins=jobs > 1), jobs) as makers:
        with counted(
            side_by_side(setter.kept_or_drawn, labs, makers), "Drawing and proving labs", of=len(labs)
        ) as proved:
            works = list(proved)
        _keep_brief(sitting, brief, [scenario for scenario, _ in works])
        if not sitting.has_register or sitting.register() != register:
            sitting.write_register(register)
        if not sitting.overrides_book.exists():
            write_file(sitting.overrides_book, write_overrides_book(), private=True)
        write = partial(setter.written, sitting.brief())
        with counted(side_by_side(write, works, makers), "Writing workbooks", of=len(labs)) as written:
            return tuple(written)


_FAULTS_WORTH_IT = 8
"""Labs with faults, each of which takes seconds to draw, from which helpers are begun."""


def _jobs(exercise: Exercise, asked_for: int | None) -> int:
    """How many processes make the labs."""
    labs = len(exercise.trainees)
    if asked_for is None and exercise.kind is ExerciseKind.FAULTS and labs >= _FAULTS_WORTH_IT:
        return jobs_for(WORTH_IT, None)
    return jobs_for(labs, asked_for)


def _keep_brief(sitting: Sitting, brief: OwnBrief | None, labs: Sequence[Scenario]) -> None:
    """Keeps the brief with the sitting. Raises TrainerError where it cannot be understood; nothing is written then.

    That the sitting has another one already is said on standard error: what was handed out stays.
    """
    kept = sitting.brief()
    if kept is not None:
        if brief is not None and brief.text != kept:
            say(
                f"{brief.file} has changed since the sitting was set, and the old brief stays. To take the new one: delete "
                f"{sitting.brief_file} and set again.",
                to=sys.stderr,
            )
        return
    if brief is not None:
        for place, scenario in enumerate(labs):
            try:
                brief_blocks(brief.text, scenario)
            except TrainerError as error:
                where = f" That is so in lab {scenario.lab_number}, and not in every lab." if place else ""
                raise TrainerError(f"{brief.file}: {error}{where}") from error
        sitting.keep_brief(brief.text)


def _register(exercise: Exercise, sitting: Sitting, roll: Sequence[Trainee]) -> Register:
    """The sitting's register with a line for every trainee; those who are in it already keep theirs.

    roll: of all trainees; whoever is in the register and not there has left the class.
    """
    secret = sitting.secret()
    bare = replace(exercise, trainees=())
    if sitting.has_register:
        register = sitting.register()
        announced = with_announced(register.exercise, bare)
        bare = replace(bare, date=announced.date)
        before, now = announced.parts(), bare.parts()
        changed = [part for part in now if now[part] != before[part]]
        if not _NO_LAB_RESTS_ON.issuperset(changed):
            raise TrainerError(
                f"{sitting.folder} was set with another exercise; what differs: {', '.join(map(_called, changed))}. "
                "Labs may be handed out already, so nothing was written. Give the changed exercise a sitting of its own: "
                "--sitting CODE, or another Code in the workbook."
            )
        register = replace(register, exercise=bare)
    else:
        rng = random.Random(class_seed(secret, exercise.code))
        register = Register(format=FORMAT, exercise=bare, common=draw_class(exercise, rng))
    excused = {(each.id, each.attempt): each.is_excused for each in exercise.trainees}
    here = {each.id for each in roll}
    labs = [
        replace(
            lab,
            is_excused=excused.get((lab.trainee, lab.attempt), lab.is_excused),
            has_left=lab.trainee not in here,
        )
        for lab in register.labs
    ]
    taken = {each.lab for each in labs}
    known = {(each.trainee, each.attempt) for each in labs}
    for trainee in exercise.trainees:
        if (trainee.id, trainee.attempt) not in known:
            number = lab_number(secret, exercise.code, trainee, taken)
            taken.add(number)
            labs.append(
                RegisteredLab(lab=number, trainee=trainee.id, attempt=trainee.attempt, is_excused=trainee.is_excused)
            )
    return replace(register, labs=tuple(labs))


def with_present_settings(kept: Exercise, now: Exercise) -> Exercise:
    """The exercise that labs were drawn from, where no lab rests on a setting with the present one."""
    return kept.taking(_NO_LAB_RESTS_ON, now)


def _called(field: str) -> str:
    """A part of the exercise as its workbook calls it: a setting by its label, a table by its sheet."""
    settings = {each.id: each.heading for group in SETTINGS for each in group.fields}
    return settings.get(field) or next(f"sheet {table.sheet}" for table in TABLES if table.id == field)


def _trials(labs: Sequence[SetLab]) -> str:
    counts = sorted({lab.trials for lab in labs}) or [0]
    return str(counts[0]) if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"


def _as_json(sitting: Sitting, code: str, labs: Sequence[SetLab]) -> dict[str, object]:
    return {
        "sitting": code,
        "folder": str(sitting.folder.resolve()),
        "labs": [
            {
                "lab": lab.scenario.lab_number,
                "trainee": lab.scenario.trainee.id,
                "workbook": sitting.relative(lab.workbook),
                "key": sitting.relative(lab.key),
                "proven": True,
                "trials": lab.trials,
            }
            for lab in labs
        ],
    }
