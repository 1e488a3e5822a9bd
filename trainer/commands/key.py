"""`trainer key SITTING [LAB]`: a page to print for each key, beside the key workbook."""

from pathlib import Path

from trainer.commands.progress import counted
from trainer.commands.reading import near_match, of_group
from trainer.errors import TrainerError
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.pages.key import write_key_page
from trainer.store import RegisteredLab, Sitting, write_file

__all__ = ["run"]


def run(folder: Path, wanted: str | None, *, group: str | None = None) -> int:
    """Writes the pages of one lab, of one trainee, of a group, or of all, and says where they and the workbooks are."""
    sitting = Sitting.open(folder)
    labs = sitting.register().labs if wanted is None else _labs(sitting, wanted)
    scenarios = {lab.lab: sitting.scenario(lab.lab) for lab in labs}
    if group is not None:
        ids = {trainee.id for trainee in of_group([each.trainee for each in scenarios.values()], group)}
        labs = tuple(lab for lab in labs if lab.trainee in ids)
    for lab in counted(labs, "writing"):
        scenario = scenarios[lab.lab]
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
        raise TrainerError(
            f"No lab of this sitting has the number or the trainee {wanted!r}.{near_match(wanted, names)}"
        )
    return found
