"""`trainer check FILE`: every problem of an exercise workbook at once, or what setting it will give."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from trainer.commands.reading import read_exercise_file, read_own_brief
from trainer.commands.sample import sample_lab
from trainer.commands.terminal import say
from trainer.errors import ExerciseProblems, Problem, TrainerError, UnreadableFile
from trainer.lab.exercise import Exercise
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import SECTIONS
from trainer.lab.repair.drawing import NONE_IN
from trainer.lab.scenario import Scenario
from trainer.listing import how_many
from trainer.marking.effort import Effort, effort_by_section
from trainer.pages.brief_text import left_out, left_out_as_written, refuse_unknown

__all__ = ["run", "time_lines"]

_SHORT_OF_TIME = 25
"""Seconds a cell; of less `check` warns (common practice, no source)."""


def run(file: Path, *, as_json: bool) -> int:
    """Exit status 0 where the exercise can be set, 1 where there is something to mend."""
    try:
        exercise = read_exercise_file(file)
    except UnreadableFile as error:
        if not as_json:
            raise
        _print_json(
            [Problem(sheet="", cell="", found=str(file), wanted=str(error), fix="Put that right and check it again.")]
        )
        return 1
    except ExerciseProblems as found:
        wrong = _fault_of_brief(file, refuse_unknown)
        notes = _as_written(file) if wrong else []
        if as_json:
            _print_json([*found.problems, *([wrong] if wrong else [])], notes)
        else:
            say(f"{file}: {found.counted}.", style="red")
            for problem in found.problems:
                say(f"  {problem}")
            _say_fault(file, wrong, notes)
        return 1
    lines, scenario = _outlook(exercise)
    notes = []
    wrong = _fault_of_brief(file, lambda text: notes.extend(left_out(text, scenario)))
    notes = _as_written(file) if wrong else notes
    if as_json:
        _print_json([wrong] if wrong else [], notes, list(_effort_json(scenario)))
    elif wrong:
        _say_fault(file, wrong, notes)
    else:
        say(f"{file}: no problems.", *lines, *(f"  {file.with_suffix('.md').name}: {note}." for note in notes))
    return 1 if wrong else 0


def _fault_of_brief(file: Path, look_at: Callable[[str], None]) -> Problem | None:
    """What is wrong with the brief beside the workbook; None where nothing is, or there is none."""
    try:
        brief = read_own_brief(file)
        if brief is not None:
            look_at(brief.text)
    except TrainerError as error:
        wanted = "Markdown, with the words that a brief knows"
        return Problem(sheet="", cell="", found=str(error), wanted=wanted, fix="Mend the brief and check it again.")
    return None


def _as_written(file: Path) -> list[str]:
    """What a handout cannot show of a brief that cannot be filled in, so that one problem does not hide the others."""
    brief = read_own_brief(file)
    return list(left_out_as_written(brief.text)) if brief is not None else []


def _say_fault(file: Path, wrong: Problem | None, notes: Sequence[str]) -> None:
    if wrong is not None:
        say(f"{file.with_suffix('.md')}: {wrong.found}", style="red")
        for note in notes:
            say(f"{file.with_suffix('.md')}: {note}.")


def _print_json(
    problems: Sequence[Problem], notes: Sequence[str] = (), sheets: Sequence[Mapping[str, Any]] = ()
) -> None:
    rows = [
        {"sheet": each.sheet, "cell": each.cell, "found": each.found, "wanted": each.wanted, "fix": each.fix}
        for each in problems
    ]
    record = {"problems": rows, "notes": list(notes), "sheets": list(sheets)}
    print(json.dumps(record, ensure_ascii=False, indent=1))


def _effort_lines(scenario: Scenario) -> Iterator[str]:
    """What each sheet counts, and what its cells ask of whoever fills them in."""
    shares = {each.section: each.share for each in scenario.sections}
    for section, cells in effort_by_section(scenario).items():
        told = ", ".join(f"{cells[each]} {_ASKS[each]}" for each in Effort if cells[each])
        of = SECTIONS[section]
        light = len(of.rows(scenario)) * sum(each.is_read_off for each in of.questions_in(scenario))
        fifth = f"; {light} {'counts' if light == 1 else 'count'} a fifth" if light else ""
        yield f"    {of.title:<10} {shares[section]:>3} %, cells: {told}{fifth}"


_ASKS = {
    Effort.COPIED: "read off",
    Effort.REPEATED: "chosen from earlier answers",
    Effort.WORKED_OUT: "worked out",
}
"""How cells are called by what they ask; for other programs they are called by code."""


def time_lines(cells: int, minutes: int | None) -> Iterator[str]:
    """What the time comes to for each cell, and that it is short where it is; nothing where no time is set.

    >>> list(time_lines(336, 120))
    ['120 minutes for 336 cells are 21 seconds a cell.', 'That is short: give 140 minutes or more, or ask for fewer cells.']
    """
    if minutes is None:
        return
    seconds = minutes * 60 // cells
    enough = f"; {_SHORT_OF_TIME} or more are enough" if seconds >= _SHORT_OF_TIME else ""
    yield f"{how_many(minutes, 'minute')} for {how_many(cells, 'cell')} are {how_many(seconds, 'second')} a cell{enough}."
    if seconds < _SHORT_OF_TIME:
        yield f"That is short: give {-(-cells * _SHORT_OF_TIME // 60)} minutes or more, or ask for fewer cells."


def _effort_json(scenario: Scenario) -> Iterator[Mapping[str, Any]]:
    for section, cells in effort_by_section(scenario).items():
        yield {"section": section} | {each.value.replace(" ", "_"): cells[each] for each in Effort}


def _outlook(exercise: Exercise) -> tuple[list[str], Scenario]:
    """Draws and proves one lab that is thrown away, and says what setting the exercise will give; the lab as well."""
    common, scenario = sample_lab(exercise, exercise.trainees[0])
    key = derive_key(scenario)
    trials = len(prove(scenario, key).trials)
    asked = [SECTIONS[section] for section in scenario.asked]
    cells = sum(len(section.rows(scenario)) * len(section.questions_in(scenario)) for section in asked)
    slots = exercise.separate_labs(common.block_length)
    trainees = len(exercise.trainees)
    lines = [
        f"  {exercise.code}: {how_many(trainees, 'trainee')}, {len(scenario.switches)} switches, "
        f"{how_many(len(scenario.vlans), 'network')}, {how_many(cells, 'cell')} to fill in each.",
        *_effort_lines(scenario),
        *(f"  {line}" for line in time_lines(cells, exercise.minutes)),
        f"  A sample lab was drawn and proved by {how_many(trials, 'trial')}.",
        *([f"  About one lab in {NONE_IN} has no fault."] if exercise.no_fault else []),
        f"  A lab takes a /{common.block_length}; the address ranges hold {slots} of them.",
    ]
    if trainees > slots and not exercise.one_lab_for_all:
        shared = ", ".join(trainee.id for trainee in exercise.trainees[slots : slots + 8])
        more = " ..." if trainees - slots > 8 else ""
        lines.append(
            f"  Trainees from the {slots + 1}th on share a block of addresses with an earlier one: {shared}{more}."
        )
    return lines, scenario
