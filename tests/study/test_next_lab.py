"""Which short lab comes next, and when."""

from datetime import timedelta
from pathlib import Path

import pytest
from learners import MONDAY, Desk, commands, log, logged, moment, tried

from trainer import cli
from trainer.commands import practise, start
from trainer.commands.demo_class import key_texts
from trainer.commands.practice_labs import exercise_called, practice_folder
from trainer.lab.concepts import Concept
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.scenario import Asked
from trainer.sheets.filling import fill_in
from trainer.study.asks import KINDS, concept_of
from trainer.study.events import Event, Log, Moment
from trainer.study.labs import Wanted
from trainer.study.next_lab import EXERCISES_BY_SHEET, ShortLab, lab_about
from trainer.study.prompts import CELL_ASKS
from trainer.study.replay import Study, replayed
from trainer.study.today import of_today
from trainer.study_files import log_of


def days(ask: str, *on: int, **more: object) -> list[tuple[Moment, Event]]:
    """Three right answers alone on each of these days."""
    return [(moment(day), tried(ask=ask, session=f"{ask} {day}", **more)) for day in on for _ in range(3)]


SIZE = days("subnets.prefix", 0, 1, 2)


def study(found: Log) -> Study:
    return replayed(found, concept_of)


def lab_on(found: Log, day: int) -> ShortLab | None:
    return of_today(study(found), MONDAY + timedelta(days=day)).lab


def test_after_a_right_day_of_short_questions_a_lab_with_the_sheet_is_next():
    assert lab_on(log(*SIZE), 3) is None, "Place was not met yet"
    met = log(*SIZE, *days("subnets.network", 3))
    assert lab_on(met, 3) is None, "done for today"
    found = lab_on(met, 4)
    assert found is not None
    assert found.sheets == ("subnets",)


def test_size_has_no_lab_of_its_own():
    assert lab_on(log(*days("subnets.prefix", 0)), 1) is None


def test_another_lab_of_a_concept_comes_after_a_week():
    was = log(*SIZE, *days("subnets.network", 3), *days("subnets.network", 4, lab="ABC-1234"))
    assert [lab_on(was, day) is not None for day in (5, 10, 11)] == [False, False, True]


def test_the_exercise_is_the_one_with_a_chance_nearest_eighty_per_cent():
    learner = log(*SIZE, start=-1)
    sure = log(*days("subnets.network", *range(9)), start=1)
    assert lab_about(Concept.PLACE, study(learner)).exercise == "addressing"
    assert lab_about(Concept.PLACE, study(sure)).exercise == "tree-of-five"


def test_with_every_concept_secure_a_whole_lab_comes_once_a_week():
    every = sorted((each for ask, *_ in KINDS.values() for each in days(ask, 0, 1, 2)), key=lambda each: each[0].at)
    found = lab_on(log(*every), 3)
    assert found is not None
    assert found.sheets == ()
    assert lab_on(log(*every, *days("subnets.network", 3, lab="ABC-1234")), 4) is None


@pytest.mark.parametrize("section", FORM, ids=lambda each: each.id)
def test_every_sheet_is_asked_by_the_exercises_that_are_named_for_it(section):
    for name in EXERCISES_BY_SHEET[section.id]:
        asked = {share.section for share in exercise_called(name).exercise.sections if share.asked is Asked.YES}
        assert section.id in asked, name


@pytest.mark.parametrize("concept", Concept)
def test_every_concept_has_a_sheet(concept: Concept):
    """One on which cells of it are noted, else the same lab would come next for ever."""
    (sheet,) = lab_about(concept, study(log())).sheets
    assert concept in {concept_of(question.id) for question in SECTIONS[sheet].questions if question.id in CELL_ASKS}


# On the screen --------------------------------------------------------------------------------------------------------


def put(out: Path, *events: tuple[Moment, Event]) -> None:
    file = log_of(out, None).file
    file.parent.mkdir(parents=True)
    file.write_bytes(logged(*events))


def test_enter_asks_what_is_due_and_then_begins_the_lab(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    put(tmp_path, *SIZE, *days("subnets.network", 3))
    begun: list[ShortLab] = []
    asked: list[tuple[str, ...]] = []

    def asks(_log, _study, kinds, _world, what="quick"):
        asked.append(kinds)
        log_of(tmp_path, None).add([tried(ask=kind) for kind in kinds], moment(5))

    desk = Desk("", "", "quit", day=5)
    every = commands(asks=asks, next_lab=lambda lab: begun.append(lab) or 0)
    assert start.run(tmp_path, start.Wishes(), every, world=desk.world) == 0
    assert asked == [("subnets.network",)], "what is due, and no more of Place"
    assert [each.sheets for each in begun] == [("subnets",)]
    assert desk.lines == ["quit"], "the lab has the keyboard"
    out = capsys.readouterr().out
    assert (
        "Next       Place, a lab with one sheet, about 10 minutes. Why: Range, Gateway and Fixed depend on it." in out
    )
    assert "Enter begins the lab. Or:" in out


def test_lab_alone_is_a_short_one_about_what_is_learnt(tmp_path: Path):
    put(tmp_path)
    begun: list[ShortLab] = []
    start.run(tmp_path, start.Wishes(), commands(next_lab=lambda lab: begun.append(lab) or 0), world=Desk("lab").world)
    assert begun == [ShortLab(exercise="addressing", sheets=("subnets",))]


def test_the_lab_that_comes_next_goes_on_until_it_is_done_and_then_is_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    def take_up() -> str:
        around = practise.Surroundings(typed=lambda: "quit")
        wanted = Wanted(sheets=("links",), support=4)
        practise.run("addressing", tmp_path, once=None, new=False, wanted=wanted, new_if_done=True, around=around)
        assert "Left. To go on with this lab: trainer practise addressing --sheets Links" in capsys.readouterr().out
        register = practice_folder(exercise_called("addressing").exercise, tmp_path).register()
        return register.labs[-1].lab

    first = take_up()
    assert take_up() == first
    sitting = practice_folder(exercise_called("addressing").exercise, tmp_path)
    scenario = sitting.scenario(first)
    file = sitting.handout_file(scenario)
    file.write_bytes(fill_in(file.read_bytes(), scenario, key_texts(scenario)))
    assert cli.main(["practise", "--once", str(file), "--out", str(tmp_path)]) == 0
    assert take_up() != first


def test_a_lab_of_a_harder_exercise_is_noted_as_harder(tmp_path: Path):
    practised = exercise_called("tree-of-five")
    assert (practised.steps_harder, exercise_called("addressing").steps_harder) == (2, -1)
    around = practise.Surroundings(typed=lambda: "quit")
    wanted = Wanted(sheets=("links",), support=4)
    practise.run("tree-of-five", tmp_path, once=None, new=False, wanted=wanted, around=around)
    sitting = practice_folder(practised.exercise, tmp_path)
    assert sitting.progress(sitting.register().labs[0].lab).steps_harder == 2
