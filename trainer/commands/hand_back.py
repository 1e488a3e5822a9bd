"""`trainer hand-back SITTING`: what every trainee may see of the marks, in a folder each, and one archive to send."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path

from trainer.commands.handing_back import hand_back_anew
from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, Printing
from trainer.commands.reading import labs_of_group
from trainer.commands.sending import Parcel, in_words, pack, packed_as_json
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.listing import how_many
from trainer.store import GradedLab, Sitting

__all__ = ["run"]


def run(
    folder: Path, *, named: bool, group: str | None = None, as_json: bool = False, printing: Printing = ON_SCREEN
) -> int:
    """Exit status 1 where something could not be written, or nothing was graded yet."""
    sitting = Sitting.open(folder)
    with one_run(sitting):
        wanted = {each.lab: each.attempt for each in labs_of_group(sitting, group)}
        labs = [each for each in sitting.last_grades().by_lab.values() if each.lab in wanted]
        if not labs:
            raise TrainerError(f"Nothing was graded yet, so there is nothing to hand back: trainer grade {folder}")
        troubles = list(hand_back_anew(sitting, labs, wanted, sitting.register().exercise, printing, also_missing=True))
        packed = pack(sitting, "hand-back", list(_parcels(sitting, labs)), named=named)
    if as_json:
        record = {
            "sitting": sitting.folder.name,
            "folder": str(sitting.folder.resolve()),
        }
        print(json.dumps(record | packed_as_json(sitting, packed), ensure_ascii=False, indent=1))
    else:
        say(f"Handed back: {how_many(packed.labs, 'lab')}.", *in_words(sitting, packed))
    for trouble in troubles:
        say(trouble, style="red", to=sys.stderr)
    return 1 if troubles or printing.is_short else 0


def _parcels(sitting: Sitting, labs: list[GradedLab]) -> Iterator[Parcel]:
    """Marked workbook, page and PDF of each lab; those whose lab cannot be read are passed over, `grade` tells of them."""
    for graded in labs:
        try:
            scenario = sitting.scenario(graded.lab)
        except TrainerError:
            continue
        page = sitting.feedback_page(scenario.trainee, graded.lab)
        files = {
            f"marked-{graded.lab}.xlsx": sitting.marked_book(scenario),
            f"feedback-{graded.lab}.html": page,
            f"feedback-{graded.lab}.pdf": page.with_suffix(".pdf"),
        }
        yield Parcel(trainee=scenario.trainee, lab=graded.lab, files=files)
