"""The command line: parses, hands over to one command, and turns what can go wrong into words and an exit status.

0 done, 1 the user's input needs attention, 2 usage, 3 our fault (the traceback goes to a log file).
"""

import argparse
import errno
import functools
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.commands.crash_log import OUT, write_log
from trainer.commands.terminal import readable_output, say
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.commands.printing import Printing

__all__ = ["main"]

_FULL = {errno.ENOSPC, errno.EDQUOT}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}
_COMMANDS = (
    "exercises",
    "demo",
    "template",
    "sample",
    "check",
    "set",
    "grade",
    "practise",
    "quick",
    "learn",
    "progress",
    "key",
    "results",
    "paper",
    "hand-back",
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and gives its exit status."""
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
    parser = _parser()
    words = list(sys.argv[1:] if arguments is None else arguments)
    place = Path(words[0]) if len(words) == 1 else Path()
    is_place = not words or (len(words) == 1 and words[0] not in _COMMANDS and place.exists())
    options = parser.parse_args([] if is_place else words)
    try:
        if is_place:
            return _next_step(parser, place)
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
    from trainer.commands import learn, practise, progress, start
    from trainer.commands.practice_labs import sheets_called
    from trainer.study.labs import Wanted

    wanted = Wanted(sheets=sheets_called(options.sheets) if options.sheets else (), support=options.support)

    def lab(name: str | None) -> int:
        return practise.run(name, options.out, once=options.once, new=options.new, wanted=wanted)

    if options.exercise is not None or options.once is not None or options.new or options.sheets:
        without_effect = {
            "--learner": options.learner,
            "--until": options.until,
            "--after": options.after,
            "--begin-again": options.begin_again,
        }
        for name in (each for each, value in without_effect.items() if value):
            say(f"{name} is about short questions, and a lab was asked for: leave one of the two out.", to=sys.stderr)
            return 2
        return lab(options.exercise)
    wishes = start.Wishes(learner=options.learner, until=options.until, again=options.begin_again, after=options.after)
    others: dict[str, Callable[[str | None], int]] = {
        "learn": lambda name: learn.run(name, options.out, learner=options.learner),
        "progress": lambda _: progress.run([], options.out, learner=options.learner),
    }
    return start.run(options.out, wishes, lab=lab, others=others)


def _quick(options: argparse.Namespace) -> int:
    """Short questions, on the terminal or in a browser."""
    from trainer.commands import quick

    if not options.page:
        return quick.run(options.concept, options.out, learner=options.learner)
    from trainer.commands.quick_page import serve

    def told(url: str) -> None:
        say(f"Open this in a browser on this computer: {url}", "It ends with Quit there, or with Ctrl-C here.")

    return quick.run(options.concept, options.out, learner=options.learner, asks=functools.partial(serve, told=told))


def _next_step(parser: argparse.ArgumentParser, place: Path) -> int:
    """What is done with a file or folder alone; the help where there is nothing to do with it."""
    from trainer.commands import next_step

    status = next_step.run(place, OUT)
    if status is None:
        parser.print_help()
        return 2
    return status


def _printed(command: Callable[["Printing"], int], options: argparse.Namespace) -> int:
    """Runs a command that writes pages, and says what could not be printed as it is written."""
    printing = _printing(options)
    status = command(printing)
    printing.tell()
    return status


def _printing(options: argparse.Namespace) -> "Printing":
    """How pages are written."""
    from trainer.commands.printing import printing_asked_for

    return printing_asked_for(paper=options.paper, pdf=options.pdf, full=getattr(options, "full", False))


def _sitting(options: argparse.Namespace) -> Path:
    """A sitting by its folder, or by its code inside the output folder."""
    named = Path(options.sitting)
    return named if named.is_dir() else options.out / options.sitting


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="trainer", description="Sets, proves, marks and explains lab exercises for network technicians."
    )
    parser.add_argument("--version", action="version", version=f"hopsheet {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")

    demo = _command(commands, "demo", "sets, fills in and grades a class of eight, to look at", "trainer demo")
    _add_out(demo)

    _add_json(
        _command(commands, "exercises", "lists the ready-made exercises and what they train", "trainer exercises")
    )

    template = _command(
        commands, "template", "writes an exercise workbook to begin with", "trainer template harbour.xlsx"
    )
    template.add_argument("file", type=Path, metavar="FILE", help="the workbook to write (.xlsx)")

    sample = _command(
        commands, "sample", "writes one lab with its key and handout, and sets nothing", "trainer sample harbour.xlsx"
    )
    sample.add_argument("file", type=Path, metavar="FILE", help="the exercise workbook")
    _add_printing(sample)
    _add_out(sample)

    check = _command(commands, "check", "lists every problem of an exercise workbook", "trainer check harbour.xlsx")
    check.add_argument("file", type=Path, metavar="FILE", help="the exercise workbook")
    _add_json(check)

    _add_set(commands)
    grade = _command(
        commands,
        "grade",
        "marks what came back and explains every wrong cell",
        "trainer grade HARBOUR-2-thursday-12-march",
    )
    grade.add_argument("sitting", metavar="SITTING", help="the sitting's folder, or its code")
    grade.add_argument(
        "files", type=Path, nargs="*", metavar="FILES", help="grade these files only; else all in returned/"
    )
    _add_group(grade)
    _add_printing(grade, of_feedback=True)
    _add_out(grade)
    _add_json(grade)

    key = _command(
        commands, "key", "writes a page to print for each key", "trainer key HARBOUR-2-thursday-12-march h01"
    )
    key.add_argument("sitting", metavar="SITTING", help="the sitting's folder, or its code")
    key.add_argument("lab", nargs="?", metavar="LAB", help="a lab number or a trainee's id; else all")
    key.add_argument("--keys", type=Path, metavar="DIR", help="where set has put the key workbooks, if elsewhere")
    _add_group(key)
    _add_printing(key)
    _add_out(key)
    _add_json(key)

    results = _command(
        commands, "results", "writes the results again", "trainer results HARBOUR-2-thursday-12-march --decimal comma"
    )
    results.add_argument("sitting", metavar="SITTING", help="the sitting's folder, or its code")
    results.add_argument(
        "--decimal",
        choices=("point", "comma"),
        default="point",
        help="how results.csv writes numbers; with a comma, semicolons separate (point)",
    )
    _add_printing(results, of_feedback=True)
    _add_out(results)
    _add_json(results)

    paper = _command(
        commands,
        "paper",
        "writes a workbook to type a paper hand-in into",
        "trainer paper HARBOUR-2-thursday-12-march h07",
    )
    paper.add_argument("sitting", metavar="SITTING", help="the sitting's folder, or its code")
    paper.add_argument("lab", metavar="LAB", help="a lab number or a trainee's id")
    _add_out(paper)

    _add_hand_back(commands)
    _add_self_study(commands)
    return parser


def _add_self_study(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The commands of somebody who learns alone."""
    practise = _command(
        commands,
        "practise",
        "says what is due for you and what comes next; with a name, draws a lab and looks at it at every save",
        "trainer practise two-switches",
    )
    practise.add_argument(
        "exercise", nargs="?", metavar="EXERCISE", help="a ready-made exercise, or an exercise workbook"
    )
    practise.add_argument(
        "--sheets", metavar="NAMES", help="a short lab that asks these sheets alone: Subnets, or Subnets,Links"
    )
    practise.add_argument(
        "--support",
        type=int,
        choices=range(1, 6),
        default=1,
        help="how much stands there filled in: 1 a whole row, 2 and 3 less, 4 nothing, 5 other rules as well (1)",
    )
    which = practise.add_mutually_exclusive_group()
    which.add_argument("--once", type=Path, metavar="FILE", help="look at this file once, without waiting")
    which.add_argument("--new", action="store_true", help="another lab, even if one was begun")
    practise.add_argument("--until", metavar="DATE", help="the day of an examination (2026-12-18); none takes it back")
    practise.add_argument("--after", type=Path, metavar="FILE", help="begin with what a marked workbook shows")
    practise.add_argument("--begin-again", action="store_true", help="what you did before counts no more")
    _add_learner(practise)
    _add_out(practise)

    quick = _command(commands, "quick", "asks short questions, about five minutes", "trainer quick range")
    quick.add_argument(
        "concept", nargs="?", metavar="CONCEPT", help="one concept; else what is due and what comes next"
    )
    quick.add_argument(
        "--page", action="store_true", help="ask in a browser on this computer; no script is needed there"
    )
    _add_learner(quick)
    _add_out(quick)

    learn = _command(
        commands, "learn", "writes a lesson: the rule, a picture, an example with fresh numbers", "trainer learn range"
    )
    learn.add_argument("concept", nargs="?", metavar="CONCEPT", help="one concept; else what comes next")
    learn.add_argument("--text", action="store_true", help="print it as well, for a screen reader or a plain terminal")
    _add_learner(learn)
    _add_printing(learn)
    _add_out(learn)

    progress = _command(
        commands, "progress", "writes how far you are; of several logs, how far a class is", "trainer progress"
    )
    progress.add_argument("files", type=Path, nargs="*", metavar="FILES", help="learners' logs; else your own")
    _add_learner(progress)
    _add_printing(progress)
    _add_out(progress)


def _add_set(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    set_labs = _command(
        commands, "set", "writes a proven lab and its key for every trainee", "trainer set harbour.xlsx"
    )
    set_labs.add_argument("file", type=Path, metavar="FILE", help="the exercise workbook")
    set_labs.add_argument(
        "--sitting",
        metavar="CODE",
        help="name of the sitting's folder; else the one set before, or exercise code and date",
    )
    set_labs.add_argument("--keys", type=Path, metavar="DIR", help="another place for the key workbooks")
    set_labs.add_argument("--attempt", type=int, metavar="N", help="a fresh lab for the same trainees: 2 for a re-sit")
    set_labs.add_argument(
        "--trainee", action="append", default=[], metavar="ID", help="for this trainee only; repeatable"
    )
    set_labs.add_argument(
        "--yes", action="store_true", help="take over a changed date, minutes or places without being asked"
    )
    set_labs.add_argument(
        "--zip", action="store_true", help="pack the hand-outs as well, a folder a trainee (so does --named)"
    )
    _add_named(set_labs)
    _add_group(set_labs)
    _add_printing(set_labs)
    _add_out(set_labs)
    _add_json(set_labs)


def _add_hand_back(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    hand_back = _command(
        commands,
        "hand-back",
        "packs what each trainee may see of the marks",
        "trainer hand-back HARBOUR-2-thursday-12-march --named",
    )
    hand_back.add_argument("sitting", metavar="SITTING", help="the sitting's folder, or its code")
    _add_named(hand_back)
    _add_group(hand_back)
    _add_printing(hand_back, of_feedback=True)
    _add_out(hand_back)
    _add_json(hand_back)


def _command(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]", name: str, what: str, example: str
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name, help=what, description=f"{what[0].upper()}{what[1:]}.", epilog=f"Example: {example}"
    )


def _add_out(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", type=Path, default=OUT, metavar="DIR", help="where sittings are kept (output/)")


def _add_learner(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--learner", metavar="NAME", help="who practises, where several people do on this computer")


def _add_group(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--group", metavar="G", help="for the trainees of this group only")


def _add_named(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--named", action="store_true", help="folders bear the trainees' ids too, not lab numbers alone"
    )


def _add_printing(parser: argparse.ArgumentParser, *, of_feedback: bool = False) -> None:
    if of_feedback:
        parser.add_argument("--full", action="store_true", help="feedback says on paper all that it says on a screen")
    parser.add_argument("--pdf", action="store_true", help="write pages as PDF as well (needs hopsheet[pdf])")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="what pages are printed on (a4)")


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object for other programs, and nothing else"
    )
