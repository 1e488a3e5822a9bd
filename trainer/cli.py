"""The command line: parses, hands over to one command, and turns what can go wrong into words and an exit status.

0 done, 1 the user's input needs attention, 2 usage, 3 our fault (the traceback goes to a log file).
"""

import argparse
import errno
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.crash_log import OUT, write_log
from trainer.commands.garbage import look_for_garbage_seldom
from trainer.commands.terminal import readable_output, say
from trainer.errors import TrainerError
from trainer.options import COMMANDS, command_parser

if TYPE_CHECKING:
    from trainer.commands.printing import Printing

__all__ = ["main"]

_FULL = {errno.ENOSPC, errno.EDQUOT}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and gives its exit status."""
    look_for_garbage_seldom()
    if sys.stdout is not None and sys.stderr is not None:
        with readable_output():
            return _main(arguments)
    # closed by whoever began the program: what is printed goes nowhere, and what is opened next must not take its place
    with (
        open(os.devnull, "w", encoding="utf-8") as nowhere,  # noqa: PTH123  # it is no file
        redirect_stdout(sys.stdout or nowhere),
        redirect_stderr(sys.stderr or nowhere),
        readable_output(),
    ):
        status = _main(arguments)
        say("Standard output or standard error is closed, so not all that was found could be said.", to=sys.stderr)
        return status or 1


def _main(arguments: Sequence[str] | None) -> int:
    parser = command_parser()
    words = list(sys.argv[1:] if arguments is None else arguments)
    place = Path(words[0]) if len(words) == 1 else Path()
    is_place = not words or (len(words) == 1 and words[0] not in COMMANDS and place.exists())
    options = parser.parse_args([] if is_place else words)
    try:
        if is_place:
            return _next_step(place)
        return _run(options)
    except TrainerError as error:
        say(str(error), style="red", to=sys.stderr)
        return 1
    except BrokenPipeError:
        return 1
    except KeyboardInterrupt:
        say("Stopped. What was written is complete; run the same command again to go on.", style="red", to=sys.stderr)
        return 130
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _FULL:
            say(f"Not all could be printed or written: {error.strerror}. Make room and run it again.", to=sys.stderr)
            return 1
        if isinstance(error, OSError) and error.errno in _REFUSED and error.filename:
            where = f"{error.filename} cannot be read or written ({error.strerror})."
            say(f"{where} See that you may, and run it again.", style="red", to=sys.stderr)
            return 1
        log = write_log(traceback.format_exc())
        say(f"Something went wrong that should not have. Please send us this file: {log}", style="red", to=sys.stderr)
        return 3


def _run(options: argparse.Namespace) -> int:
    """Commands are imported when they are called, so that --help answers at once."""
    match options.command:
        case "template":
            from trainer.commands import template

            return template.run(options.file)
        case "sample":
            from trainer.commands import sample

            return _printed(lambda printing: sample.run(options.file, options.out, printing=printing), options)
        case "check":
            from trainer.commands import check

            return check.run(options.file, as_json=options.json)
        case "set":
            from trainer.commands import set_labs

            selection = set_labs.Selection(group=options.group, trainees=options.trainee, attempt=options.attempt)
            return _printed(
                lambda printing: set_labs.run(
                    options.file,
                    options.out,
                    code=options.sitting,
                    keys=options.keys,
                    as_json=options.json,
                    selection=selection,
                    agrees=options.yes,
                    jobs=options.jobs,
                    packing=set_labs.Packing(wanted=options.zip or options.named, named=options.named),
                    printing=printing,
                ),
                options,
            )
        case "grade":
            from trainer.commands import grade

            return _printed(
                lambda printing: grade.run(
                    _sitting(options),
                    options.files,
                    as_json=options.json,
                    group=options.group,
                    jobs=options.jobs,
                    printing=printing,
                ),
                options,
            )
        case "key":
            from trainer.commands import key

            return _printed(
                lambda printing: key.run(
                    _sitting(options),
                    options.lab,
                    group=options.group,
                    keys=options.keys,
                    as_json=options.json,
                    printing=printing,
                ),
                options,
            )
        case "results":
            from trainer.commands import results

            return _printed(
                lambda printing: results.run(
                    _sitting(options),
                    decimal_comma=options.decimal == "comma",
                    as_json=options.json,
                    printing=printing,
                ),
                options,
            )
        case "paper":
            from trainer.commands import paper

            return paper.run(_sitting(options), options.lab)
        case "hand-back":
            from trainer.commands import hand_back

            return _printed(
                lambda printing: hand_back.run(
                    _sitting(options), named=options.named, group=options.group, as_json=options.json, printing=printing
                ),
                options,
            )
        case "practise":
            return _practise(options)
        case "quick":
            return _quick(options)
        case "learn":
            from trainer.commands import learn

            return _printed(
                lambda printing: learn.run(
                    options.concept, options.out, learner=options.learner, as_text=options.text, printing=printing
                ),
                options,
            )
        case "progress":
            from trainer.commands import progress

            return _printed(
                lambda printing: progress.run(options.files, options.out, learner=options.learner, printing=printing),
                options,
            )
        case "exercises":
            from trainer.commands import exercises

            return exercises.run(as_json=options.json)
        case "demo":
            from trainer.commands import demo

            return demo.run(options.out)
    raise AssertionError(options.command)


def _practise(options: argparse.Namespace) -> int:
    """A lab where one is named; else the screen that says what is due and what comes next."""
    from trainer.commands import learn, practise, progress, quick, start
    from trainer.commands.local_app import tell_address
    from trainer.commands.practice_labs import sheets_called
    from trainer.commands.quick_page import run_round_on_page
    from trainer.study.labs import Wanted
    from trainer.study.next_lab import ShortLab

    sheets = sheets_called(options.sheets) if options.sheets else ()
    wanted = Wanted(sheets=sheets, support=options.support, level=options.level)

    def lab(name: str | None, wanted: Wanted = wanted, *, new_if_done: bool = False) -> int:
        return practise.run(
            name,
            options.out,
            once=options.once,
            new=options.new,
            wanted=wanted,
            new_if_done=new_if_done,
            learner=options.learner,
            page=tell_address if options.page else None,
        )

    def next_lab(following: ShortLab) -> int:
        return lab(following.exercise, replace(wanted, sheets=following.sheets), new_if_done=True)

    if options.exercise is not None or options.once is not None or options.new or options.sheets or options.level:
        without_effect = {
            "--until": options.until,
            "--after": options.after,
            "--begin-again": options.begin_again,
        }
        for name in (each for each, value in without_effect.items() if value):
            say(f"{name} is about short questions, and a lab was asked for: leave one of the two out.", to=sys.stderr)
            return 2
        if options.once is not None and options.page:
            say("--once looks at a file without a page: leave one of the two out.", to=sys.stderr)
            return 2
        return lab(options.exercise)
    wishes = start.Wishes(learner=options.learner, until=options.until, again=options.begin_again, after=options.after)
    commands = start.Commands(
        lab=lab,
        next_lab=next_lab,
        lesson=lambda name, as_text: learn.run(name, options.out, learner=options.learner, as_text=as_text),
        progress=lambda: progress.run([], options.out, learner=options.learner),
        asks=run_round_on_page if options.page else quick.run_round,
    )
    return start.run(options.out, wishes, commands)


def _quick(options: argparse.Namespace) -> int:
    """Short questions, on the terminal or in a browser."""
    from trainer.commands import quick
    from trainer.commands.quick_page import run_round_on_page

    asks = run_round_on_page if options.page else quick.run_round
    return quick.run(options.concept, options.out, learner=options.learner, asks=asks)


def _next_step(place: Path) -> int:
    """What is done with a file or folder alone."""
    from trainer.commands import next_step

    return next_step.run(place, OUT)


def _printed(command: Callable[["Printing"], int], options: argparse.Namespace) -> int:
    """Runs a command that writes pages, and says what could not be printed as it is written."""
    printing = _printing(options)
    status = command(printing)
    printing.tell()
    return status


def _printing(options: argparse.Namespace) -> "Printing":
    """How pages are written."""
    from trainer.commands.printing import printing_asked_for

    return printing_asked_for(
        paper=options.paper,
        pdf=options.pdf,
        full=getattr(options, "full", False),
        large=getattr(options, "large", False),
    )


def _sitting(options: argparse.Namespace) -> Path:
    """A sitting by its folder, or by its code inside the output folder."""
    named = Path(options.sitting)
    return named if named.is_dir() else options.out / options.sitting
