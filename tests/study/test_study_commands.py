"""`practise` without a name and `quick`: what the screen says, and what is written into the log."""

import threading
from pathlib import Path

import pytest
from learners import Desk, commands, logged, moment, tried

from trainer import cli
from trainer.commands import quick, start
from trainer.errors import TrainerError
from trainer.lab.concepts import Concept
from trainer.study.asks import concept_of
from trainer.study.events import Begun, Tried, read_log
from trainer.study.replay import Study, replayed
from trainer.study_files import StudyLog, log_of, logs_in, read_log_file


def begin(out: Path, desk: Desk, **wishes: object) -> int:
    return start.run(out, start.Wishes(**wishes), commands(), world=desk.world)  # type: ignore[arg-type]


def put(out: Path, data: bytes, name: str = "log.jsonl") -> Path:
    file = out / "practice" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    return file


def studied(out: Path, learner: str | None = None) -> Study:
    return replayed(log_of(out, learner).read(), concept_of)


def test_the_first_screen_asks_once_and_says_what_is_next_and_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    begin(tmp_path, Desk("x", "2", "quit"))
    assert capsys.readouterr().out.splitlines() == [
        "Have you planned subnets before? 1 never, 2 a few times, 3 often.",
        "Type 1, 2 or 3.",
        f"What you do is noted in {tmp_path / 'practice' / 'log.jsonl'}, and nowhere else. It is no grade.",
        "",
        "Secure     -",
        "Learning   -",
        "Due today  nothing",
        "Next       Size, short questions, about 5 minutes. Why: Place depends on it.",
        "Enter begins: 6 questions. Or: quick, learn size, lab, progress, help, quit.",
    ]
    assert studied(tmp_path).start == 0
    begin(tmp_path, Desk("quit"))
    assert "planned subnets" not in capsys.readouterr().out


def test_nothing_is_written_where_nobody_answers(tmp_path: Path):
    begin(tmp_path, Desk())
    assert not (tmp_path / "practice").exists()


def known(*concepts: tuple[str, int]) -> bytes:
    """A log in which kinds of questions were right three times on each of the first so many days."""
    return logged(
        *(
            (moment(day), tried(ask=ask, session=f"{ask} {day}"))
            for day in range(3)
            for ask, days in concepts
            if day < days
            for _ in range(3)
        )
    )


def test_the_screen_says_what_is_secure_learnt_due_and_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    put(tmp_path, known(("subnets.prefix", 3), ("subnets.network", 2)))
    begin(tmp_path, Desk("quit", day=20))
    assert capsys.readouterr().out.splitlines() == [
        "Secure     Size",
        "Learning   Place: right alone on 2 days, 3 in a row make it secure",
        "Due today  2 questions, about 1 minute (Place: last asked 19 days ago)",
        "Next       Place, a lab with one sheet, about 10 minutes. Why: Range, Gateway and Fixed depend on it.",
        "Enter begins: 2 questions. Or: quick, learn place, lab, progress, help, quit.",
    ]


def test_what_is_done_for_today_comes_tomorrow(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    done = ("subnets.prefix", "subnets.mask", "ports.vlan")
    put(tmp_path, logged(*((moment(), tried(ask=ask)) for ask in done for _ in range(3))))
    begin(tmp_path, Desk("", "quick size", "quit"))
    out = capsys.readouterr().out
    assert "Next       Size and Ports: done for today, again tomorrow. Three days hold longer than one." in out
    assert "Nothing is due, and what comes next is done for today." in out
    assert "Size is done for today: enough was right." in out


def test_a_clock_that_was_set_back_torn_lines_and_edits_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    data = logged((moment(5), tried()), (moment(6), tried()))
    file = put(tmp_path, data.replace(b'"row":""', b'"row":"1"', 1) + b'{"at":"20')
    begin(tmp_path, Desk("quit", day=1))
    out = capsys.readouterr().out
    assert (
        "This computer's clock says 2026-12-01, and your last practice was on 2026-12-06: days are counted from" in out
    )
    assert f"1 line of {file} could not be read and is read over." in out
    assert f"{file} was changed at 1 place by something else than this program." in out


class Knowing(Desk):
    """Somebody who answers every question rightly: what is asked is drawn again from the same chance."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *lines: str, day: int = 0) -> None:
        super().__init__(*lines, day=day)
        self.answers: list[str] = []
        drawn = quick.Round.ask_next

        def ask_next(asked: quick.Round) -> tuple[str, ...]:
            found = drawn(asked)
            if asked.asking is not None:
                self.lines.insert(0, asked.asking.question.answer)
            return found

        monkeypatch.setattr(quick.Round, "ask_next", ask_next)


def test_a_round_is_noted_and_says_what_comes_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    put(tmp_path, logged(start=1))
    assert quick.run("size", tmp_path, world=Knowing(monkeypatch).world) == 0
    out = capsys.readouterr().out
    assert "1 of 6, Size, Prefix length" in out
    assert "Right at the first try: Size, Prefix length 3 times; Size, Mask 3 times." in out
    assert "Size: a right day, 1 of 3.\nComes back at the latest: in 2 days Size, Prefix length; Size, Mask." in out
    found = studied(tmp_path)
    assert (found.tried, found.concepts[Concept.SIZE].row, found.open_sessions) == (6, 1, {})
    assert quick.run("size", tmp_path, world=Desk().world) == 0
    assert "Size is done for today" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("tries", "told"),
    [
        (
            [{"support": 1}] * 3,
            "Place: a day with help beside it. Days without lead to secure; they come by themselves.",
        ),
        ([{}] * 3, "Place: a right day, 1 of 3."),
        (
            [{}, {}, {"first": "wrong"}, {"first": "wrong"}],
            "Place: no right day, 3 of 4 at the first try; a hint or a second try counts half, and 85 of 100 are right.",
        ),
        ([{}], None),
    ],
)
def test_the_end_of_a_round_says_whether_the_day_counts(tries: list[dict[str, object]], told: str | None):
    found = logged(*((moment(), tried(ask="subnets.network", **each)) for each in tries))
    study = replayed(read_log(found), concept_of)
    assert [*quick.how_it_went(["subnets.network"], study, moment().day)] == ([told] if told else [])


def test_a_day_with_one_question_is_not_said_to_count():
    found = logged(
        *((moment(), tried(ask="subnets.network")) for _ in range(3)), (moment(1), tried(ask="subnets.network"))
    )
    study = replayed(read_log(found), concept_of)
    assert study.concepts[Concept.PLACE].row == 1
    assert [*quick.how_it_went(["subnets.network"], study, moment(1).day)] == []


def test_three_days_of_rounds_make_a_concept_secure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    put(tmp_path, logged(start=1))
    for day in range(3):
        assert studied(tmp_path).secure == ()
        quick.run("size", tmp_path, world=Knowing(monkeypatch, day=day).world)
        monkeypatch.undo()
    assert studied(tmp_path).secure == (Concept.SIZE,)


def test_what_was_done_before_somebody_leaves_is_in_the_log(tmp_path: Path):
    put(tmp_path, logged())
    quick.run("range", tmp_path, world=Desk("10.0.0.1", "skip", "10.0.0.1").world)
    tries = [event for _, event in log_of(tmp_path, None).read().events if isinstance(event, Tried)]
    assert [(each.first, each.right) for each in tries] == [("wrong", False)] * 2
    assert studied(tmp_path).open_sessions == {}


def test_error_no_such_concept(tmp_path: Path):
    with pytest.raises(TrainerError) as refused:
        quick.run("rage", tmp_path, world=Desk().world)
    assert str(refused.value) == (
        "There is no concept 'rage'. Did you mean Range? They are: Size, Place, Range, Gateway, Fixed, Link, Ports, "
        "Routes, Return path, Pool, Relay, Snooping, Bindings and Guard."
    )


def test_words_of_the_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    put(tmp_path, logged())
    assert begin(tmp_path, Desk("what", "quick colour", "lab addressing", "quit")) == 7, "a lab takes the keyboard over"
    out = capsys.readouterr().out
    assert "quick range asks about one concept" in out
    assert "There is no concept 'colour'." in out


# Logs -----------------------------------------------------------------------------------------------------------------


def test_two_learners_have_a_log_each_and_are_chosen_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for name, day in (("Zoë Ankersø", 0), ("Bram", 1)):
        begin(tmp_path, Desk("1", "quit", day=day), learner=name)
    assert [name for name, _ in logs_in(tmp_path)] == ["Bram", "Zoë Ankersø"]
    with pytest.raises(TrainerError) as refused:
        begin(tmp_path, Desk("quit"))
    assert str(refused.value) == (
        f"2 people practise in {tmp_path}: Bram, Zoë Ankersø. Say who you are, such as --learner 'Bram'."
    )
    capsys.readouterr()
    begin(tmp_path, Desk(), learner="Bran")
    assert "There is no log of 'Bran' yet. Did you mean Bram?" in capsys.readouterr().out
    begin(tmp_path, Desk("quit"), learner="bram")
    assert "planned subnets" not in capsys.readouterr().out


def test_one_learner_need_not_say_who(tmp_path: Path):
    begin(tmp_path, Desk("1", "quit"), learner="Zoë")
    assert log_of(tmp_path, None) == log_of(tmp_path, "Zoë")


def test_names_that_look_alike_as_files_are_told_apart(tmp_path: Path):
    names = ("Zoë", "Zo", "Zoe", "../Zoe", "zoe", "语言", "Zo e")
    files = {log_of(tmp_path, name).file for name in names}
    assert len(files) == len(names) - 1, "small and capital letters are one name"
    assert {file.parent for file in files} == {tmp_path / "practice"}


def test_a_log_that_was_moved_goes_on_and_one_that_was_deleted_begins_anew(tmp_path: Path):
    put(tmp_path / "here", known(("subnets.prefix", 3)))
    moved = tmp_path / "there" / "practice"
    moved.parent.mkdir()
    (tmp_path / "here" / "practice").rename(moved)
    assert studied(tmp_path / "there").secure == (Concept.SIZE,)
    begin(tmp_path / "there", Desk("quit", day=4))
    (moved / "log.jsonl").unlink()
    begin(tmp_path / "there", Desk("3", "quit", day=4))
    assert (studied(tmp_path / "there").secure, studied(tmp_path / "there").start) == ((), 1)


def test_begun_again_the_old_lines_stay_in_the_file(tmp_path: Path):
    file = put(tmp_path, known(("subnets.prefix", 3)))
    before = file.read_bytes()
    begin(tmp_path, Desk("2", "quit", day=5), again=True)
    assert file.read_bytes().startswith(before)
    assert (studied(tmp_path).secure, studied(tmp_path).start) == ((), 0)


def test_begun_again_the_name_is_kept(tmp_path: Path):
    begin(tmp_path, Desk("1", "quit"), learner="Zoë")
    begin(tmp_path, Desk("3", "quit", day=1), again=True)
    assert [name for name, _ in logs_in(tmp_path)] == ["Zoë"]
    assert (studied(tmp_path).learner, studied(tmp_path).start) == ("Zoë", 1)


def test_until_a_day_is_kept_and_taken_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    put(tmp_path, logged())
    begin(tmp_path, Desk("quit"), until="2026-12-20")
    assert "Until      2026-12-20, 20 days from today: questions come back sooner" in capsys.readouterr().out
    begin(tmp_path, Desk("quit"), until="none")
    assert studied(tmp_path).until is None


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("soon", "--until: found 'soon'; a day is wanted, written like 2026-11-30."),
        ("2026-11-30", "--until: found '2026-11-30'; that day is over. Write a later one, or none to take it back."),
    ],
)
def test_error_until_no_day(tmp_path: Path, text: str, told: str):
    put(tmp_path, logged())
    with pytest.raises(TrainerError) as refused:
        begin(tmp_path, Desk("quit"), until=text)
    assert str(refused.value) == told


def test_two_windows_take_turns_and_nothing_is_lost(tmp_path: Path):
    log = StudyLog(put(tmp_path, logged()))
    troubles: list[Exception] = []

    def write(window: str) -> None:
        try:
            for row in range(8):
                log.add([tried(session=window, row=str(row))], moment())
        except TrainerError as error:
            troubles.append(error)

    windows = [threading.Thread(target=write, args=(name,)) for name in "ab"]
    for each in windows:
        each.start()
    for each in windows:
        each.join()
    found = log.read()
    assert (troubles, found.edited, found.torn) == ([], 0, 0)
    rows = [(event.session, event.row) for _, event in found.events if isinstance(event, Tried)]
    assert sorted(rows) == [(window, str(row)) for window in "ab" for row in range(8)]


def test_a_torn_line_is_kept_and_gone_on_behind(tmp_path: Path):
    file = put(tmp_path, logged((moment(), tried()))[:-9])
    log = StudyLog(file)
    log.add([Begun(until="2026-12-18")], moment(1))
    found = log.read()
    assert (len(found.events), found.torn, found.edited) == (2, 1, 0)


def test_error_a_log_that_cannot_be_read(tmp_path: Path):
    with pytest.raises(TrainerError, match="is no file"):
        read_log_file(tmp_path)
    big = tmp_path / "log.jsonl"
    with big.open("wb") as out:
        out.truncate(21 * 2**20)
    with pytest.raises(TrainerError, match="is larger than 20 MB"):
        read_log_file(big)


def test_the_command_line_asks_for_all_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("builtins.input", lambda _: "quit")
    put(tmp_path, logged())
    until = ["--until", "2099-12-31", "--learner", "Ana"]
    assert cli.main(["practise", "--out", str(tmp_path)]) == 0
    assert cli.main(["quick", "size", "--out", str(tmp_path)]) == 0
    lines = iter(["1", "quit"])
    monkeypatch.setattr("builtins.input", lambda _: next(lines))
    assert cli.main(["practise", *until, "--out", str(tmp_path)]) == 0
    assert studied(tmp_path, "Ana").until is not None
