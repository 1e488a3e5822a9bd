"""What may stand on the command line, and what its help says. Nothing is imported for it that a command needs."""

import argparse
from pathlib import Path

from trainer import __version__
from trainer.commands.crash_log import OUT

__all__ = ["COMMANDS", "command_parser"]

COMMANDS = (
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


_MOST_PROCESSES = 64


def command_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line; what it finds is run by cli."""
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
    _add_printing(sample, of_labs=True)
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
    _add_jobs(grade)
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
    _add_printing(key, of_labs=True)
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
        help="how much stands there filled in: 1 a whole row, 2 and 3 less, 4 nothing, 5 other rules as well (as your log "
        "shows what you know; without one 1)",
    )
    practise.add_argument(
        "--level",
        type=int,
        choices=range(1, 6),
        help="of an exercise with faults how hard they are to find; 5: nothing is seen of one before the other is put right",
    )
    which = practise.add_mutually_exclusive_group()
    which.add_argument("--once", type=Path, metavar="FILE", help="look at this file once, without waiting")
    which.add_argument("--new", action="store_true", help="another lab, even if one was begun")
    practise.add_argument("--until", metavar="DATE", help="the day of an examination (2026-12-18); none takes it back")
    practise.add_argument("--after", type=Path, metavar="FILE", help="begin with what a marked workbook shows")
    _add_page(practise)
    practise.add_argument("--begin-again", action="store_true", help="what you did before counts no more")
    _add_learner(practise)
    _add_out(practise)

    quick = _command(commands, "quick", "asks short questions, about five minutes", "trainer quick range")
    quick.add_argument(
        "concept", nargs="?", metavar="CONCEPT", help="one concept; else what is due and what comes next"
    )
    _add_page(quick)
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
    _add_jobs(set_labs)
    _add_printing(set_labs, of_labs=True)
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


def _add_page(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--page", action="store_true", help="ask in a browser on this computer; no script is needed there"
    )


def _add_group(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--group", metavar="G", help="for the trainees of this group only")


def _add_jobs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--jobs",
        type=_processes,
        metavar="N",
        help="processes that work side by side, 1 to 64; else as many as the machine has, for a large class",
    )


def _processes(text: str) -> int:
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 3 else 0
    if not 1 <= number <= _MOST_PROCESSES:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of processes: write 1 to {_MOST_PROCESSES}")
    return number


def _add_named(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--named", action="store_true", help="folders bear the trainees' ids too, not lab numbers alone"
    )


def _add_printing(parser: argparse.ArgumentParser, *, of_feedback: bool = False, of_labs: bool = False) -> None:
    if of_labs:
        parser.add_argument("--large", action="store_true", help="write each page in letters of 18 points as well")
    if of_feedback:
        parser.add_argument("--full", action="store_true", help="feedback says on paper all that it says on a screen")
    parser.add_argument(
        "--pdf",
        action="store_true",
        help="write pages as PDF as well (needs one more package: pip install -e '.[pdf]')",
    )
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="what pages are printed on (a4)")


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object for other programs, and nothing else"
    )
