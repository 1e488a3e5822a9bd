"""`trainer paper SITTING h07`: the workbook in which somebody types what a trainee has handed in on paper."""

from pathlib import Path

from trainer.commands.one_run import one_run
from trainer.commands.reading import labs_named
from trainer.commands.terminal import say
from trainer.files import write_file
from trainer.lab.key import derive_key
from trainer.pages.brief_text import brief_parts
from trainer.sheets.answer_book import write_answer_book
from trainer.store import Sitting, stem

__all__ = ["run"]


def run(folder: Path, wanted: str) -> int:
    """Writes it into returned/ and says where. One that is there already is left as it is: answers may stand in it.

    wanted: a lab number or a trainee's id; of several attempts the last one is meant.
    """
    sitting = Sitting.open(folder)
    lab = max(labs_named(sitting, wanted), key=lambda each: each.attempt)
    scenario = sitting.scenario(lab.lab)
    file = sitting.returned / f"{stem(scenario.trainee, lab.lab)}-paper.xlsx"
    if file.exists():
        say(f"It is there already, and was left as it is: {file}")
    else:
        with one_run(sitting):
            own = sitting.brief()
            parts = () if own is None else brief_parts(own, scenario)
            write_file(file, write_answer_book(scenario, derive_key(scenario), parts), private=True)
        say(f"Type in what the paper of {lab.trainee} (lab {lab.lab}) says: {file}")
    say(f"Then: trainer grade {folder}")
    return 0
