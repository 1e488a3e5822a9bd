"""`trainer key SITTING [LAB]`: a page to print for each key, beside the key workbook."""

from difflib import get_close_matches
from pathlib import Path

from trainer.commands.progress import counted
from trainer.errors import TrainerError
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.pages.key import write_key_page
from trainer.store import RegisteredLab, Sitting, write_file

__all__ = ["run"]


def run(folder: Path, wanted: str | None) -> int:
    """Writes the pages of one lab, of one trainee, or of all, and says where they and the workbooks are."""
    sitting = Sitting.open(folder)
    labs = sitting.register().labs if wanted is None else _labs(sitting, wanted)
    for lab in counted(labs, "writing"):
        scenario = sitting.scenario(lab.lab)
        key = derive_key(scenario)
        write_file(sitting.key_page(scenario), write_key_page(scenario, key, prove(scenario, key)), private=True)
        if len(labs) <= 3:
            print(f"{lab.lab} ({lab.trainee})")
            print(f"  to print:  {sitting.key_page(scenario)}")
            print(f"  workbook:  {sitting.key_file(scenario)}")
    if len(labs) > 3:
        print(f"Wrote {len(labs)} pages to print, beside the key workbooks: {sitting.keys}")
    return 0


def _labs(sitting: Sitting, wanted: str) -> tuple[RegisteredLab, ...]:
    """The labs of that number, or of that trainee."""
    labs = sitting.register().labs
    found = tuple(lab for lab in labs if wanted.casefold() in (lab.lab.casefold(), lab.trainee.casefold()))
    if not found:
        names = [name for lab in labs for name in (lab.lab, lab.trainee)]
        near = get_close_matches(wanted, names, n=1, cutoff=0.5)
        hint = f" Did you mean {near[0]}?" if near else " Give a lab number or a trainee's id."
        raise TrainerError(f"No lab of this sitting has the number or the trainee {wanted!r}.{hint}")
    return found
