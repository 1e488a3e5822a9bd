"""What a lab costs, in milliseconds and beside two yardsticks measured in the same run. Figures only, nothing is asserted.

    python tests/bench/bench.py [--labs N]

Yardsticks: writing the trainee's sheets with openpyxl the straightforward way (new style objects for every cell), and
openpyxl loading the trainee's workbook ("one load"). How a class costs as whole commands, and how work grows, is measured by
class_costs.py and growth.py beside it; a large class by itself: python tests/bench/class_costs.py --labs 1000
"""

import argparse
import io
import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.draw import lab_number, lab_slot, seed_of
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.network.topology import Running
from trainer.network.trials import ping, traced
from trainer.pages.blocks import Document
from trainer.pages.brief_text import general_brief
from trainer.pages.feedback import feedback_document
from trainer.pages.handout import handout_document
from trainer.pages.html import as_html
from trainer.pages.key import key_document
from trainer.pages.pdf import HOW_TO_GET_IT, as_pdf, can_make_pdf
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.marked_book import write_marked_book
from trainer.sheets.returned_book import ReturnedForm, read_form

sys.path += [str(Path(__file__).parents[1] / folder) for folder in ("bench", "network", "lab", "marking")]
import class_costs
import growth
from papers_to_grade import ten_wrong
from routed_trees import chain, routed_tree

SECRET = bytes(32)
NOTHING = Answers(values={}, rows={})
NETWORKS_A_SWITCH = 3


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--labs", type=int, default=20, help="how many labs to measure (20)")
    labs = parser.parse_args().labs
    exercise = read_exercise(HARBOUR)
    assert isinstance(exercise, Exercise)
    common = draw_for_class(exercise, random.Random(1))
    times: dict[str, list[float]] = {}
    pages: dict[str, list[Document]] = {}

    def timed(what: str, work: Callable[..., Any], *arguments: Any) -> Any:
        begun = time.perf_counter()
        result = work(*arguments)
        times.setdefault(what, []).append((time.perf_counter() - begun) * 1000)
        return result

    for index in range(labs + 1):
        trainee = exercise.trainees[index % len(exercise.trainees)]
        number = lab_number(SECRET, exercise.code, trainee)
        slot = lab_slot(SECRET, exercise, common, index)
        rng = random.Random(seed_of(SECRET, str(index)))
        scenario = timed("draw", draw_scenario, exercise, common, trainee, number, slot, rng)
        key = timed("key", derive_key, scenario)
        timed("prove", prove, scenario, key)
        book = timed("write", write_answer_book, scenario, key)
        timed("write key", write_key_book, scenario, key)
        filled = fill_in(book, scenario, FILLINGS[4 + index % 3].fill(scenario, key_texts(scenario)))
        form = timed("read", _read, filled, scenario)
        marked = timed("mark", mark, scenario, form.filled)
        perfect = _read(fill_in(book, scenario, key_texts(scenario)), scenario)
        timed("mark a perfect paper", mark, scenario, perfect.filled)
        wrong = _read(fill_in(book, scenario, ten_wrong(scenario)), scenario)
        timed("mark ten wrong cells", mark, scenario, wrong.filled)
        timed("marked copy", _marked_copy, scenario, marked, form.notices)
        timed("feedback page", _feedback_page, scenario, marked, form.notices)
        documents = {
            "handout": timed("handout, its blocks", handout_document, scenario, general_brief(), NOTHING),
            "key page": timed("key page, its blocks", key_document, scenario, key, prove(scenario, key)),
        }
        for what, document in documents.items():
            pages.setdefault(what, []).append(document)
            timed(f"{what} as HTML", as_html, [document])
            if can_make_pdf():
                timed(f"{what} as PDF", as_pdf, [document])
        straight = _straightforward(book)
        timed("yardstick: straightforward writing", straight)
        timed("yardstick: one load", load_workbook, io.BytesIO(filled))
        if index == 0:
            times.clear()  # the first lab pays for imports and caches
            pages.clear()
    for what, of_class in pages.items() if can_make_pdf() else ():
        timed(f"{what} as PDF, whole class", as_pdf, of_class)
        times[f"{what} as PDF, whole class"][0] /= labs
    medians = {what: statistics.median(values) for what, values in times.items()}
    _report(medians, labs)
    _report_chains(medians["yardstick: one load"])
    growth.report(medians["yardstick: one load"])
    class_costs.report(4 * labs)


def _marked_copy(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> bytes:
    return write_marked_book(scenario, marked, notices, reveal=scenario.rules.reveal)


def _feedback_page(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> bytes:
    return as_html([feedback_document(scenario, marked, notices, reveal=scenario.rules.reveal)])


def _read(book: bytes, scenario: Scenario) -> ReturnedForm:
    return read_form(read_book(book), scenario)


def _straightforward(book: bytes) -> Callable[[], bytes]:
    """Writes the same sheets with new style objects for each cell; reading them first is not part of the time."""
    model = load_workbook(io.BytesIO(book))
    cells = [
        [(cell.row, cell.column, cell.value, cell.protection.locked) for row in sheet for cell in row if cell.has_style]
        for sheet in model.worksheets
    ]

    def write() -> bytes:
        workbook = Workbook()
        for like, rows in zip(model.worksheets, cells, strict=True):
            sheet = workbook.create_sheet(like.title)
            for letter, dimension in like.column_dimensions.items():
                sheet.column_dimensions[letter].width = dimension.width
            for row, dimension in like.row_dimensions.items():
                sheet.row_dimensions[row].height = dimension.height
            for validation in like.data_validations.dataValidation:
                sheet.add_data_validation(
                    DataValidation(type="list", formula1=validation.formula1, sqref=validation.sqref)
                )
            sheet.freeze_panes = like.freeze_panes
            sheet.page_setup.orientation = like.page_setup.orientation
            sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
            sheet.protection.enable()
            for row, column, value, locked in rows:
                cell = sheet.cell(row, column, value)
                side = Side(style="thin", color="FF9FAFB8")
                cell.font = Font(name="DejaVu Sans", size=10, color="FF16232E")
                cell.fill = PatternFill("solid", start_color="FFE3EAEE", end_color="FFE3EAEE")
                cell.border = Border(left=side, right=side, top=side, bottom=side)
                cell.alignment = Alignment(wrap_text=True, horizontal="left", vertical="center")
                cell.protection = Protection(locked=locked)
                cell.number_format = "@"
        out = io.BytesIO()
        workbook.save(out)
        return out.getvalue()

    return write


def _report(medians: dict[str, float], labs: int) -> None:
    load = medians["yardstick: one load"]
    straight = medians["yardstick: straightforward writing"]
    print(f"medians of {labs} labs")
    for what, milliseconds in medians.items():
        print(f"  {what:<36} {milliseconds:8.1f} ms   {milliseconds / load:6.2f} loads")
    making = sum(medians[what] for what in ("draw", "key", "prove"))
    marking = sum(medians[what] for what in ("read", "mark", "marked copy"))
    print(f"  writing against the straightforward way: {medians['write'] / straight:.2f}   (aim: at most 0.3)")
    print(f"  draw + prove + key:                      {making / load:.2f} loads   (aim: at most 4)")
    print(f"  prove a lab of two switches:             {medians['prove'] / load:.2f} loads   (aim: at most 0.3)")
    print(f"  read + mark + marked copy:               {marking / load:.2f} loads   (aim: at most 8)")
    blocks = sum(medians[f"{what}, its blocks"] for what in ("handout", "key page"))
    for ending, aim in (
        ("HTML", "at most 1"),
        ("PDF, whole class", "at most 10"),
        ("PDF", "none: each in a file of its own"),
    ):
        if "PDF" in ending and not can_make_pdf():
            print(f"  handout and key as {ending + ':':<21} not measured. {HOW_TO_GET_IT}")
            continue
        both = blocks + sum(medians[f"{what} as {ending}"] for what in ("handout", "key page"))
        print(f"  handout and key as {ending + ':':<21} {both / load:.2f} loads   (aim: {aim})")
    ten = medians["mark ten wrong cells"] / load
    print(f"  mark ten wrong cells, all experiments:   {ten:.2f} loads   (aim: at most 6)")


def _report_chains(load: float) -> None:
    """Every pair of hosts both ways on rows of switches: how the time grows with pairs times switches on the way."""
    for switches in (10, 25, 50):
        milliseconds, way = _all_pairs(switches, with_steps=False)
        print(
            f"  chain of {switches} switches, all pairs both ways:  {milliseconds:8.1f} ms   {milliseconds / load:6.2f} "
            f"loads   {1000 * milliseconds / way:.2f} us a switch on the way"
            + ("   (aim: at most 200 loads)" * (switches == 50))
        )
    plain, noted = (_all_pairs(10, with_steps=steps)[0] for steps in (False, True))
    print(f"  noting every step of a ping:             {noted / plain:.1f} times a ping without")


def _all_pairs(switches: int, *, with_steps: bool) -> tuple[float, int]:
    """Milliseconds for everything from compiling the network on, and how many switches the packets passed."""
    network = routed_tree(
        chain(switches), [place // NETWORKS_A_SWITCH for place in range(NETWORKS_A_SWITCH * switches)]
    )
    begun = time.perf_counter()
    running = Running(network)
    passed = 0
    for source in network.stations:
        for target in network.stations:
            if source is not target:
                result = traced(ping, running, source, target).result if with_steps else ping(running, source, target)
                assert result.drop is None, "everybody reaches everybody"
                passed += 2 * (len(result.request.path) - 2)
    return (time.perf_counter() - begun) * 1000, passed


if __name__ == "__main__":
    main()
