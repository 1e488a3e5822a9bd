"""`progress`: how far somebody is, and a class; and where practice begins after marked work."""

from decimal import Decimal
from pathlib import Path

import pytest
from book_values import sheet_named, values
from drawn_labs import bakery
from learners import Desk, commands, log, logged, moment, tried
from repair_labs import kept_lab
from repair_papers import ONE, fault_row, form

from trainer import cli
from trainer.commands import progress, start
from trainer.errors import TrainerError, UnreadableFile
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.concepts import Concept, FaultConcept
from trainer.lab.form import CellRef
from trainer.lab.key import derive_key
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Reveal
from trainer.marking.marker import mark
from trainer.pages.blocks import texts_of
from trainer.pages.progress import class_document, own_document
from trainer.sheets.answer_book import write_answer_book
from trainer.sheets.intake import read_book
from trainer.sheets.marked_book import write_marked_book
from trainer.sheets.marked_reading import judged_in
from trainer.sheets.progress_book import log_in_book, progress_book
from trainer.study.asks import concept_of
from trainer.study.events import Begun, Log, read_log
from trainer.study.overview import overview_of
from trainer.study.rules_in_a_line import RULES
from trainer.study.today import round_of, weak
from trainer.study_files import log_of


def person(name: str, right: int, *, mistake: str = "mask-one-bit-long", days: int = 3) -> Log:
    """Somebody who tried four prefix lengths a day, so many of them rightly."""
    events = [
        (
            moment(day),
            tried(
                session=f"s{day}",
                first="right" if place < right else "wrong",
                right=place < right,
                shown=place >= right,
                mistake="" if place < right else mistake,
            ),
        )
        for day in range(days)
        for place in range(4)
    ]
    return log((moment(), Begun(learner=name)), *events)


def overview(*logs: Log, day: int = 3):
    return overview_of([(f"file {place}", each) for place, each in enumerate(logs)], moment(day).day)


def test_a_row_a_person_by_name_a_word_a_concept():
    found = overview(person("Zoë", 4), person("anna", 2), log((moment(), Begun(start=0))))
    assert [each.name for each in found.people] == ["anna", "file 2", "Zoë"]
    assert [each.word(Concept.SIZE) for each in found.people] == ["learning 0 of 3", "-", "secure"]
    later = overview(person("Zoë", 4), day=60)
    assert later.people[0].word(Concept.SIZE) == "secure, due"
    assert overview(person("Zoë", 4, days=2)).people[0].word(Concept.SIZE) == "learning 2 of 3"


def test_the_commonest_mistake_is_the_one_that_most_people_made():
    logs = (person("a", 0, mistake="mask-one-bit-short"), person("b", 3), person("c", 3))
    (found,) = overview(*logs).mistakes
    assert (found.concept, found.people, found.times) == (Concept.SIZE, 2, 6)
    assert found.words.startswith("There is one network bit too ")
    assert overview(person("a", 4)).mistakes == ()


def test_no_text_of_a_mistake_holds_a_placeholder():
    ids = {"mask-one-bit-long", "two-values", "value-with-a-remark", "typing-slip"}
    for each in ids:
        for found in overview(person("a", 0, mistake=each)).mistakes:
            assert "{" not in found.words


def test_page_and_workbook_say_the_same_and_nobody_is_ranked():
    found = overview(person("Zoë", 4), person("=cmd()", 2))
    page = texts_of(class_document(found).blocks)
    book = progress_book(found)
    concepts = sheet_named(book, "Concepts")
    assert ["Name", *(each.title for each in Concept)] in [list(row) for row in values(concepts)]
    rows = {str(row[0]): row for row in values(concepts) if row}
    for each in found.people:
        assert each.name in page
        row = rows[each.name if each.name[0] != "=" else f"'{each.name}"]
        assert row[1] == each.word(Concept.SIZE)
    practice = values(sheet_named(book, "Practice"))
    assert [row[1] for row in practice if row and row[0] == "Zoë"] == [Decimal(3)]
    assert not any("rank" in text.casefold() or "best" in text.casefold() for text in page)


def test_the_own_page_says_when_each_concept_comes_back():
    (one,) = overview(person("Zoë", 4)).people
    said = texts_of(own_document(one).blocks)
    assert one.comes_back(Concept.SIZE) is not None
    assert str(one.comes_back(Concept.SIZE)) in said
    assert "secure" in said
    assert RULES[Concept.GATEWAY] in said, "what it is about"
    assert one.own_word(Concept.GATEWAY) in said


def test_the_learner_is_told_what_a_concept_waits_for():
    (beginner,) = overview(person("Zoë", 0)).people
    assert [beginner.own_word(each) for each in (Concept.PORTS, Concept.RANGE)] == ["-", "opens after Place"]
    assert beginner.own_word(Concept.LINK) == "opens after Range, Gateway and Fixed"


def test_a_class_is_read_from_files_and_what_is_none_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    files = [tmp_path / name for name in ("a.jsonl", "b.jsonl", "copy.jsonl", "notes.txt", "gone.jsonl")]
    for file, name in zip(files[:2], ("Ana", ""), strict=True):
        file.write_bytes(logged((moment(), Begun(learner=name)), (moment(), tried())))
    files[2].write_bytes(files[0].read_bytes())
    files[3].write_text("no log")
    assert progress.run(files, tmp_path / "out", world=Desk(day=3).world) == 1
    out = capsys.readouterr().out
    assert f"{files[2]} is a copy of another of these logs, and counts once." in out
    assert f"{files[3]} holds no line of a learner's log." in out
    assert f"{files[4]} is no file." in out
    assert "Ana" in out
    assert (tmp_path / "out" / "progress" / "progress.xlsx").is_file()
    page = (tmp_path / "out" / "progress" / "progress.html").read_text(encoding="utf-8")
    assert ">b<" in page, "who has no name is called by the file"
    with pytest.raises(TrainerError, match="None of the files"):
        progress.run(files[3:], tmp_path / "out", world=Desk().world)


def test_own_progress_by_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert cli.main(["progress", "--out", str(tmp_path)]) == 0
    assert "Nothing was practised yet" in capsys.readouterr().out
    folder = tmp_path / "practice"
    folder.mkdir()
    (folder / "log.jsonl").write_bytes(logged((moment(), tried())))
    assert cli.main(["progress", "--out", str(tmp_path)]) == 0
    assert (folder / "progress.html").is_file()


def test_the_own_workbook_shows_what_is_sent_and_is_read_in_place_of_the_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file = log_of(tmp_path, "Zoë").file
    file.parent.mkdir()
    file.write_bytes(logged((moment(), Begun(learner="Zoë")), (moment(), tried()), (moment(1), tried(row="Route 3"))))
    assert progress.run([], tmp_path, learner="Zoë", world=Desk(day=3).world) == 0
    book = file.with_name(f"progress{file.stem.removeprefix('log')}.xlsx")
    assert str(book) in capsys.readouterr().out
    assert read_log(log_in_book(read_book(book.read_bytes()))) == read_log(file.read_bytes())
    assert progress.run([book, file], tmp_path / "class", world=Desk(day=3).world) == 1
    out = capsys.readouterr().out
    assert f"{file} is a copy of another of these logs, and counts once." in out
    assert "Zoë" in out


def test_error_a_workbook_without_a_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    marked, broken = tmp_path / "marked.xlsx", tmp_path / "broken.xlsx"
    marked.write_bytes(marked_bakery())
    broken.write_bytes(b"no workbook")
    with pytest.raises(TrainerError, match="None of the files"):
        progress.run([marked, broken], tmp_path / "class", world=Desk().world)
    out = capsys.readouterr().out
    assert f"{marked} holds no line of a learner's log." in out
    assert f"{broken}: " in out


# After marked work ----------------------------------------------------------------------------------------------------


def marked_bakery() -> bytes:
    """Two prefix lengths right, one wrong; all else is blank."""
    texts = {
        CellRef("subnets.prefix", VlanRow(vlan)): CellText(text) for vlan, text in ((30, "23"), (20, "25"), (40, "24"))
    }
    lab = bakery()
    return write_marked_book(lab, mark(lab, FilledForm(texts=texts, rows={})), (), reveal=Reveal.HINTS)


def test_a_marked_workbook_is_read_by_its_signs():
    judged = judged_in(read_book(marked_bakery()))
    assert judged[Concept.SIZE] == (2, 10), "a prefix length and a mask for each of five networks"
    assert judged[Concept.PLACE] == (0, 5)
    assert weak(judged) == (Concept.SIZE, Concept.PLACE, Concept.RANGE)
    assert weak({Concept.SIZE: (17, 20), Concept.POOL: (16, 20)}) == (Concept.POOL,)


def test_error_no_marked_workbook():
    with pytest.raises(UnreadableFile, match="It is no marked workbook: no answer on a sheet of the form has a sign"):
        judged_in(read_book(write_answer_book(bakery(), derive_key(bakery()))))


def test_practice_opens_with_what_was_weak(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "b01.xlsx"
    file.write_bytes(marked_bakery())
    desk = Desk("1", "", "quit", "quit")
    start.run(tmp_path, start.Wishes(after=file), commands(), world=desk.world)
    out = capsys.readouterr().out
    assert "In b01.xlsx right: Size 2 of 10, Place 0 of 5, Range 0 of 15." in out
    assert "Next       Size, Place and Range, short questions. Why: they were weak in marked work." in out
    assert "1 of 8, Size" in out
    assert "Next       Size, short questions, about 5 minutes." in out, "once it was taken up"
    (tmp_path / "notes.txt").write_text("x")
    with pytest.raises(TrainerError, match=r"notes\.txt: "):
        start.run(tmp_path, start.Wishes(after=tmp_path / "notes.txt"), commands(), world=Desk().world)


def test_after_a_lab_of_faults_no_concept_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    lab, file = kept_lab(ONE), tmp_path / "f01.xlsx"
    file.write_bytes(
        write_marked_book(lab, mark(lab, form(fault_row(1, "A1", "Network", "x"))), (), reveal=Reveal.HINTS)
    )
    start.run(tmp_path, start.Wishes(after=file), commands(), world=Desk("1", "quit").world)
    out = capsys.readouterr().out
    assert "In f01.xlsx faults were looked for. No short question is about that; a lab is: lab faults-one" in out
    assert "Next       Size, short questions, about 5 minutes. Why: Place depends on it." in out
    assert not [each for each in FaultConcept if each.title in out]


def test_a_round_about_several_concepts_takes_them_in_turn():
    kinds = round_of((Concept.SIZE, Concept.PLACE, Concept.RANGE), {})
    assert len(kinds) == 8
    assert [concept_of(each) for each in kinds[:3]] == [Concept.SIZE, Concept.PLACE, Concept.RANGE]
