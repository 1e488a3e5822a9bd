"""`trainer progress [FILES]`: how far somebody is; of several people's logs the instructor's page and workbook."""

from collections.abc import Sequence
from pathlib import Path

from trainer.commands.printing import ON_SCREEN, Printing, write_pages
from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import in_one_line, say, say_table
from trainer.commands.watched_reader import watched_reader
from trainer.errors import TrainerError
from trainer.files import make_folder, write_file
from trainer.lab.concepts import Concept
from trainer.pages.progress import class_document, own_document
from trainer.sheets.progress_book import log_in_book, write_own_book, write_progress_book
from trainer.store import read_returned
from trainer.study.events import Log, read_log
from trainer.study.overview import Overview, Person, overview_of
from trainer.study_files import StudyLog, log_of, read_log_file

__all__ = ["run"]


def run(
    files: Sequence[Path],
    out: Path,
    *,
    learner: str | None = None,
    printing: Printing = ON_SCREEN,
    world: StudyWorld | None = None,
) -> int:
    """Without files the learner's own overview; with files that of a class. Exit status 1 where one cannot be read."""
    day = (StudyWorld() if world is None else world).moment.day
    if not files:
        log = log_of(out, learner)
        return _own(overview_of([("you", log.read())], day).people[0], log, printing)
    logs, troubles = _read(files)
    for trouble in troubles:
        say(trouble)
    if not logs:
        raise TrainerError("None of the files is a learner's log. Ask for output/practice/log.jsonl.")
    return max(_class(overview_of(logs, day), out, printing), 1 if troubles else 0)


def _read(files: Sequence[Path]) -> tuple[list[tuple[str, Log]], list[str]]:
    """The logs with the names of their files, and what to say of the others. A copy of a log counts once."""
    logs: list[tuple[str, Log]] = []
    troubles: list[str] = []
    for file in files:
        try:
            log = _log_in(file)
        except TrainerError as error:
            troubles.append(str(error))
            continue
        if not log.events:
            troubles.append(
                f"{in_one_line(str(file))} holds no line of a learner's log. Ask for output/practice/log.jsonl."
            )
        elif any(log == other for _, other in logs):
            troubles.append(f"{in_one_line(str(file))} is a copy of another of these logs, and counts once.")
        else:
            logs.append((file.stem, log))
    return logs, troubles


def _log_in(file: Path) -> Log:
    """A log by its file, or by the workbook that was made from it."""
    if file.suffix.casefold() != ".xlsx":
        return read_log_file(file)
    try:
        return read_log(log_in_book(watched_reader.read(read_returned(file))))
    except TrainerError as error:
        raise TrainerError(f"{in_one_line(str(file))}: {error}") from error


def _own(person: Person, log: StudyLog, printing: Printing) -> int:
    rows = []
    for concept in Concept:
        back = person.comes_back(concept)
        rows.append((concept.title, person.own_word(concept), back.isoformat() if back else "-"))
    say_table(("Concept", "How it stands", "Comes back"), rows)
    if person.study.last is None:
        say("Nothing was practised yet: trainer practise")
        return 0
    page = log.file.with_name(f"progress{log.file.stem.removeprefix('log')}.html")
    book = page.with_suffix(".xlsx")
    troubles = write_pages(page, [own_document(person)], printing)
    try:
        write_file(book, write_own_book(person, log.file.read_bytes()), private=True)
    except (TrainerError, OSError) as error:
        troubles.append(str(error))
    return _told(troubles, [page, book])


def _class(overview: Overview, out: Path, printing: Printing) -> int:
    folder = out / "progress"
    make_folder(folder)
    page, book = folder / "progress.html", folder / "progress.xlsx"
    troubles = write_pages(page, [class_document(overview)], printing, private=True)
    try:
        write_file(book, write_progress_book(overview), private=True)
    except TrainerError as error:
        troubles.append(str(error))
    say_table(
        ("Name", "Secure", "Days", "Answers asked for"),
        (
            (
                person.name,
                ", ".join(concept.title for concept in person.study.secure) or "-",
                str(len(person.study.days)),
                str(person.study.answers_shown),
            )
            for person in overview.people
        ),
        numbers=("Days", "Answers asked for"),
    )
    return _told(troubles, [page, book])


def _told(troubles: Sequence[str], files: Sequence[Path]) -> int:
    for trouble in troubles:
        say(trouble)
    say(f"Written: {', '.join(map(str, files))}")
    return 1 if troubles else 0
