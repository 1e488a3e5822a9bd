"""`trainer key SITTING [LAB]`: a page to print for each key, beside the key workbook."""

import json
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, LabPage, Printing, pdfs_of, write_class_file, write_lab_page
from trainer.commands.reading import labs_named, labs_of_group, refuse_outsiders, trainee_of
from trainer.commands.terminal import counted, say
from trainer.errors import TrainerError
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.scenario import Scenario
from trainer.listing import how_many
from trainer.pages.blocks import Document
from trainer.pages.html import article
from trainer.pages.key import key_document
from trainer.store import RegisteredLab, Sitting

__all__ = ["run"]


def run(
    folder: Path,
    wanted: str | None,
    *,
    group: str | None = None,
    keys: Path | None = None,
    as_json: bool = False,
    printing: Printing = ON_SCREEN,
) -> int:
    """Writes the pages of one lab, of one trainee, of a group, or of all, and says where they and the workbooks are.

    Of a group or of all it writes a file with all pages in roll order, too.

    keys: where the key workbooks are, if `set` put them elsewhere. Exit status 1 where a page could not be written; the
    others are.
    """
    sitting = Sitting.open(folder)
    if keys is not None:
        sitting.keys = keys
    labs = labs_of_group(sitting, group)
    if wanted is not None:
        labs = labs_named(sitting, wanted)
        if group is not None:
            refuse_outsiders([trainee_of(sitting, lab) for lab in labs], group)
    pages: list[tuple[RegisteredLab, Path, Path]] = []
    every: list[LabPage] = []
    troubles: list[str] = []
    with one_run(sitting):
        sitting.create_keys()
        with counted(labs, "Writing keys", of=len(labs)) as each:
            for lab in each:
                try:
                    scenario = sitting.scenario(lab.lab)
                    every.append(LabPage(article(_document(scenario)), partial(_document, scenario)))
                except TrainerError as error:
                    troubles.append(str(error))
                    continue
                page = sitting.key_page(scenario)
                unwritten = write_lab_page(page, every[-1], printing, private=True)
                if unwritten:
                    troubles += unwritten
                else:
                    pages.append((lab, page, sitting.key_file(scenario)))
        class_file = sitting.class_file("keys", group)
        in_one_file: list[str] = []
        if wanted is None:
            title = f"ANSWER KEYS {sitting.folder.name}"
            in_one_file = write_class_file(class_file, every, len(every), printing, title=title)
            troubles += in_one_file
    if as_json:
        print(json.dumps(_as_json(sitting, pages), ensure_ascii=False, indent=1))
    elif len(pages) > 3:
        say(f"Wrote {how_many(len(pages), 'page')} to print, beside the key workbooks: {sitting.keys}")
        if wanted is None and not in_one_file:
            say(f"  all of them in roll order: {class_file}{_and_pdf(class_file, printing)}")
    else:
        for lab, page, book in pages:
            say(f"{lab.lab} ({lab.trainee})")
            say(f"  to print:  {page}{_and_pdf(page, printing)}")
            say(f"  workbook:  {book if book.exists() else 'not here; say where with --keys DIR'}")
    for trouble in troubles:
        say(trouble, style="red", to=sys.stderr)
    return 1 if troubles or printing.is_short else 0


def _document(scenario: Scenario) -> Document:
    """Raises ProofFailed."""
    key = derive_key(scenario)
    return key_document(scenario, key, prove(scenario, key))


def _and_pdf(page: Path, printing: Printing) -> str:
    names = [each.name for each in pdfs_of(page, of_class=True)] if printing.pdf else []
    return f" and {' to '.join(dict.fromkeys((names[0], names[-1])))}" if names else ""


def _as_json(sitting: Sitting, pages: Sequence[tuple[RegisteredLab, Path, Path]]) -> dict[str, object]:
    return {
        "sitting": sitting.folder.name,
        "folder": str(sitting.folder.resolve()),
        "keys": [
            {
                "lab": lab.lab,
                "trainee": lab.trainee,
                "page": sitting.relative(page),
                "workbook": sitting.relative(book) if book.exists() else None,
            }
            for lab, page, book in pages
        ],
    }
