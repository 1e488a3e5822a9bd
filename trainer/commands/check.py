"""`trainer check FILE`: every problem of an exercise workbook at once, or what setting it will give."""

import json
import random
from collections.abc import Callable, Sequence
from pathlib import Path

from trainer.commands.reading import read_exercise_file, read_own_brief
from trainer.commands.terminal import say
from trainer.errors import ExerciseProblems, Problem, TrainerError, UnreadableFile
from trainer.lab.draw import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.pages.brief_text import left_out, refuse_unknown

__all__ = ["run"]


def run(file: Path, *, as_json: bool) -> int:
    """Exit status 0 where the exercise can be set, 1 where there is something to mend."""
    try:
        exercise = read_exercise_file(file)
    except UnreadableFile as fault:
        if not as_json:
            raise
        _print_json(
            [Problem(sheet="", cell="", found=str(file), wanted=str(fault), fix="Put that right and check it again.")]
        )
        return 1
    except ExerciseProblems as found:
        wrong = _fault_of_brief(file, refuse_unknown)
        if as_json:
            _print_json([*found.problems, *([wrong] if wrong else [])])
        else:
            say(f"{file}: {found.counted}.", style="red")
            for problem in found.problems:
                say(f"  {problem}")
            _say_fault(file, wrong)
        return 1
    lines, scenario = _outlook(exercise)
    notes: list[str] = []
    wrong = _fault_of_brief(file, lambda text: notes.extend(left_out(text, scenario)))
    if as_json:
        _print_json([wrong] if wrong else [], notes)
    elif wrong:
        _say_fault(file, wrong)
    else:
        say(f"{file}: no problems.", *lines, *(f"  {file.with_suffix('.md').name}: {note}." for note in notes))
    return 1 if wrong else 0


def _fault_of_brief(file: Path, look_at: Callable[[str], None]) -> Problem | None:
    """What is wrong with the brief beside the workbook; None where nothing is, or there is none."""
    try:
        brief = read_own_brief(file)
        if brief is not None:
            look_at(brief.text)
    except TrainerError as fault:
        wanted = "Markdown, with the words that a brief knows"
        return Problem(sheet="", cell="", found=str(fault), wanted=wanted, fix="Mend the brief and check it again.")
    return None


def _say_fault(file: Path, wrong: Problem | None) -> None:
    if wrong is not None:
        say(f"{file.with_suffix('.md')}: {wrong.found}", style="red")


def _print_json(problems: Sequence[Problem], notes: Sequence[str] = ()) -> None:
    rows = [
        {"sheet": each.sheet, "cell": each.cell, "found": each.found, "wanted": each.wanted, "fix": each.fix}
        for each in problems
    ]
    print(json.dumps({"problems": rows, "notes": list(notes)}, ensure_ascii=False, indent=1))


def _outlook(exercise: Exercise) -> tuple[list[str], Scenario]:
    """Draws and proves one lab that is thrown away, and says what setting the exercise will give; the lab as well."""
    rng = random.Random(0)
    common = draw_for_class(exercise, rng)
    scenario = draw_scenario(exercise, common, exercise.trainees[0], "AAA-AAAA", 0, rng)
    key = derive_key(scenario)
    trials = len(prove(scenario, key).trials)
    asked = [SECTIONS[section] for section in scenario.asked]
    cells = sum(len(section.rows(scenario)) * len(section.questions) for section in asked)
    slots = exercise.separate_labs(common.block_length)
    trainees = len(exercise.trainees)
    lines = [
        f"  {exercise.code}: {trainees} trainees, {len(scenario.switches)} switches, {len(scenario.vlans)} networks, "
        f"{cells} cells to fill in each.",
        f"  A sample lab was drawn and proved by {trials} trials.",
        f"  A lab takes a /{common.block_length}; the address ranges hold {slots} of them.",
    ]
    if trainees > slots and not exercise.one_lab_for_all:
        shared = ", ".join(trainee.id for trainee in exercise.trainees[slots : slots + 8])
        more = " ..." if trainees - slots > 8 else ""
        lines.append(
            f"  Trainees from the {slots + 1}th on share a block of addresses with an earlier one: {shared}{more}."
        )
    return lines, scenario
