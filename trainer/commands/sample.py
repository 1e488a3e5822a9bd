"""`trainer sample FILE`: one lab with its workbook, handout and key, to look at before anything is set."""

import random
from pathlib import Path

from trainer.commands.printing import ON_SCREEN, LabPage, Printing, write_lab_page
from trainer.commands.reading import read_exercise_file, read_own_brief
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.files import make_folder, write_file
from trainer.lab.draw import ClassDraw, draw_class, draw_lab
from trainer.lab.exercise import Exercise
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.scenario import Scenario, Trainee
from trainer.pages.brief_text import brief_parts, general_brief
from trainer.pages.handout import handout_document
from trainer.pages.key import key_document
from trainer.sheets.answer_book import write_answer_book, write_key_book

__all__ = ["run", "sample_lab"]

_NUMBER = "AAA-AAAA"
"""Of a lab that is in no sitting."""


def sample_lab(exercise: Exercise, trainee: Trainee) -> tuple[ClassDraw, Scenario]:
    """One lab of the exercise, the same at every run, and what its class would have in common."""
    rng = random.Random(0)
    common = draw_class(exercise, rng)
    return common, draw_lab(exercise, common, trainee, _NUMBER, 0, rng)


def run(file: Path, out: Path, *, printing: Printing = ON_SCREEN) -> int:
    """Writes the files of one lab into a folder of their own and says where; exit status 1 where one could not be written."""
    exercise = read_exercise_file(file)
    brief = read_own_brief(file)
    _, scenario = sample_lab(exercise, Trainee(id="sample"))
    key = derive_key(scenario)
    proof = prove(scenario, key)
    folder = out / f"sample-{exercise.code}"
    make_folder(folder, private=False)
    handout = handout_document(scenario, brief.text if brief else general_brief(), key, named=exercise.print_names)
    workbook, key_book = folder / "sample.xlsx", folder / "KEY-sample.xlsx"
    parts = brief_parts(brief.text, scenario) if brief else ()
    write_file(workbook, write_answer_book(scenario, key, parts))
    write_file(key_book, write_key_book(scenario, key))
    troubles = write_lab_page(workbook.with_suffix(".html"), LabPage.of(handout), printing)
    key_page = LabPage.of(key_document(scenario, key, proof))
    troubles += write_lab_page(key_book.with_suffix(".html"), key_page, printing)
    say(f"A sample lab of {exercise.code} was drawn and proved by {len(proof.trials)} trials. Nothing was set.")
    for what, path in (
        ("workbook", workbook),
        ("handout", workbook.with_suffix(".html")),
        ("key", key_book),
        ("key to print", key_book.with_suffix(".html")),
    ):
        say(f"  {what + ':':<14}{path}")
    if troubles:
        raise TrainerError("\n".join(troubles))
    return 1 if printing.is_short else 0
