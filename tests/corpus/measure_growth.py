"""Does with grown workbooks what `grade`, `practise` and `check` do, and prints what each takes, and the most megabytes.

Time is told as a multiple of what openpyxl takes to load the paper as it was handed out, on the same machine: a yardstick that
our own reading, made faster, does not shorten.

A process of its own, so that the greatest memory is that of these files. Its arguments name the dimensions to grow in.
"""

import io
import json
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from statistics import median

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "lab")]

from drawn_labs import draw
from growing import DIMENSIONS, grown
from openpyxl import load_workbook
from workbooks import of_returned

from trainer.commands.practice_lines import report_lines
from trainer.errors import TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.key import derive_key
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.practice import Progress, after_save
from trainer.pages.blocks import Paper
from trainer.pages.feedback import feedback_document
from trainer.pages.html import as_html
from trainer.sheets.answer_book import write_key_book
from trainer.sheets.exercise_book import read_exercise_book, write_exercise_book
from trainer.sheets.intake import read_book
from trainer.sheets.marked_book import write_marked_book
from trainer.sheets.paper import paper_of
from trainer.sheets.returned_book import read_form


def grade(data: bytes, lab: Scenario) -> None:
    """All that a returned file goes through: read twice, as in a class, marked, told while practising, written."""
    paper_of(read_book(data))
    form = read_form(read_book(data), lab)
    marked = mark(lab, form.filled)
    list(report_lines(marked, after_save(Progress(lab=lab.lab_number), marked, (1, 2, 3)), form.where))
    write_marked_book(lab, marked, form.notices, reveal=lab.rules.reveal)
    as_html([feedback_document(lab, marked, form.notices, reveal=lab.rules.reveal)], Paper.A4)


def check(data: bytes) -> None:
    read_exercise_book(data)


def main() -> None:
    exercise = read_exercise(HARBOUR)
    assert isinstance(exercise, Exercise)
    lab = draw(exercise, 1)[0]
    handed_out = write_key_book(lab, derive_key(lab))
    papers = of_returned(read_book(handed_out))
    exercises = of_returned(read_book(write_exercise_book(HARBOUR)))
    seconds = {}
    for name in sys.argv[1:] or DIMENSIONS:
        for what, book in (("grade", papers), ("check", exercises)):
            data = grown(book, name)
            seconds[f"{what}: {name}"] = _seconds(
                partial(grade, data, lab) if what == "grade" else partial(check, data)
            )
    one_load = median(_seconds(partial(load_workbook, io.BytesIO(handed_out))) for _ in range(5))
    times = {name: took / one_load for name, took in seconds.items()}
    sys.stdout.write(json.dumps({"times": times, "most_megabytes": _most_megabytes()}))


def _seconds(run: Callable[[], None]) -> float:
    before = time.process_time()
    with suppress(TrainerError):
        run()
    return time.process_time() - before


def _most_megabytes() -> float | None:
    """Of this program alone. Linux counts into ru_maxrss what the process that began it had (proc(5): VmHWM does not)."""
    status = Path("/proc/self/status")
    if status.exists():
        (most,) = (line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(most.split()[1]) / 1024
    try:
        import resource
    except ImportError:  # not on every system
        return None
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
