"""Neither key, nor seed, nor secret is in what is handed out, and the lab cannot be drawn again without the secret.

More is not claimed: a lab that can be solved can be solved by a program, this one too (README, Examinations).
"""

import hashlib
import hmac
import io
import random
import re
import stat
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from ipaddress import IPv4Address
from pathlib import Path
from typing import Any, NoReturn

import pytest
from drawn_labs import bakery, draw, exercise_of
from sittings_compared import SECRET, SMALL, set_words, with_secret

from trainer import cli
from trainer.commands.reading import read_exercise_file
from trainer.lab.draw import class_seed, lab_number, lab_seed, lab_slot, seed_of
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers, CellRef, Choice
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Scenario
from trainer.sheets.answer_book import write_answer_book
from trainer.store import Sitting

# --- The key is not in the workbook -----------------------------------------------------------------------------------

LABS = (bakery(), *draw(exercise_of(HARBOUR), 2))


class NoKey:
    """In place of a key: whoever looks into it fails."""

    def __getattribute__(self, name: str) -> NoReturn:
        raise AssertionError(f"the key's {name} is looked at")


NO_KEY: Any = NoKey()


@pytest.fixture
def without_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    """No answer can be worked out, nor which rows of an open sheet are needed."""

    def refuse(*_: object) -> NoReturn:
        raise AssertionError("an answer is worked out")

    for section in FORM:
        choice: Choice[Any, Any] = Choice(accepts=refuse, rests_on="")
        questions = tuple(replace(each, answer=refuse, choice=choice) for each in section.questions)
        rows = section.rows if section.open is None else refuse
        monkeypatch.setitem(SECTIONS, section.id, replace(section, questions=questions, rows=rows, set_already=refuse))


@pytest.mark.parametrize("lab", LABS, ids=lambda lab: lab.lab_number)
@pytest.mark.usefixtures("without_rules")
def test_the_workbook_is_written_without_any_answer(lab: Scenario):
    """Not a byte of it can depend on the key: not a width, a height, a list to choose from, a number of rows, a string."""
    write_answer_book(lab, NO_KEY)


@pytest.mark.usefixtures("without_rules")
def test_the_same_holds_where_rows_are_set_already():
    lab = LABS[0]
    switches = (replace(lab.switches[0], asks_routes=False), *lab.switches[1:])
    write_answer_book(replace(lab, switches=switches), NO_KEY)


def test_the_workbook_is_the_same_with_a_key_or_without():
    for lab in LABS:
        assert write_answer_book(lab, NO_KEY) == write_answer_book(lab, derive_key(lab))


def of_other_values(key: Answers, sections: set[str]) -> Answers:
    """The key of which all values of these sections are another cell's of the same question, and no row is left."""
    values: dict[CellRef, Any] = dict(key.values)
    for section in sections:
        for question in SECTIONS[section].questions:
            cells = [cell for cell in values if cell.question == question.id]
            for cell, other in zip(cells, [*cells[1:], *cells[:1]], strict=True):
                values[cell] = key.values[other]
    return Answers(values=values, rows={each: () if each in sections else rows for each, rows in key.rows.items()})


@pytest.mark.parametrize("given", ["subnets", "routes", "pools", "bindings"])
def test_where_a_sheet_is_given_the_answers_of_all_others_change_no_byte(given: str):
    lab = LABS[0]
    shares = (replace(each, asked=Asked.GIVEN if each.section == given else each.asked) for each in lab.sections)
    lab = replace(lab, sections=tuple(shares))
    key = derive_key(lab)
    other = of_other_values(key, set(SECTIONS) - {given})
    assert other != key
    assert write_answer_book(lab, other) == write_answer_book(lab, key)
    assert write_answer_book(lab, of_other_values(key, {given})) != write_answer_book(lab, key), "it is printed"


# --- The seed is not in what is handed out ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sitting(tmp_path_factory: pytest.TempPathFactory) -> Sitting:
    sitting = with_secret(tmp_path_factory.mktemp("leaks") / "s")
    assert cli.main(set_words(sitting, 2)) == 0
    return sitting


def unpacked(file: Path) -> Iterator[bytes]:
    yield file.name.encode()
    data = file.read_bytes()
    yield data
    if zipfile.is_zipfile(file):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in archive.infolist():
                yield member.filename.encode() + member.comment + member.extra + archive.read(member)


def test_neither_the_secret_nor_a_seed_is_in_what_is_handed_out(sitting: Sitting):
    exercise, secret = read_exercise_file(SMALL), bytes.fromhex(SECRET)
    numbers = [int.from_bytes(secret), seed_of(secret, exercise.code, "class")]
    numbers += [lab_seed(secret, exercise, trainee) for trainee in exercise.trainees[:2]]
    for file in sitting.hand_out.iterdir():
        for content in unpacked(file):
            for number in numbers:
                told = (
                    number.to_bytes(32),
                    number.to_bytes(32, "little"),
                    f"{number:x}".encode(),
                    str(number).encode(),
                )
                assert not any(each in content or each.upper() in content for each in told)


def test_files_and_folders_of_the_instructor_are_closed_and_nothing_handed_out_leads_to_them(sitting: Sitting):
    for path in (sitting.instructor, *sitting.instructor.rglob("*")):
        assert stat.S_IMODE(path.stat().st_mode) == (0o700 if path.is_dir() else 0o600), path
    for file in sitting.hand_out.iterdir():
        assert not file.is_symlink()
        assert file.stat().st_nlink == 1
        assert not any(
            b"instructor" in content or str(sitting.folder).encode() in content for content in unpacked(file)
        )


def test_no_address_of_the_key_is_in_anything_that_is_handed_out(sitting: Sitting):
    """Whatever kind of file it is, as far as its text stands in it openly."""
    for lab in map(sitting.scenario, (each.lab for each in sitting.register().labs)):
        told = {str(value) for value in derive_key(lab).values.values() if isinstance(value, IPv4Address)}
        told -= {str(lab.block.network_address)}
        files = [file for file in sitting.hand_out.iterdir() if lab.lab_number in file.name]
        assert told
        assert files
        for file in files:
            for content in unpacked(file):
                found = re.findall(rb"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", content)
                assert not told & {each.decode() for each in found}, file.name


def drawn(secret: bytes, exercise: Exercise, place: int) -> Scenario:
    """The lab of the so-manieth trainee, as the program draws it with that secret."""
    common = draw_for_class(exercise, random.Random(class_seed(secret, exercise.code)))
    trainee = exercise.trainees[place]
    return draw_scenario(
        exercise,
        common,
        trainee,
        lab_number(secret, exercise.code, trainee),
        lab_slot(secret, exercise, common, place),
        random.Random(lab_seed(secret, exercise, trainee)),
    )


def guesses(exercise: Exercise, lab: Scenario) -> Iterator[bytes]:
    """What one might try who knows the workbook, the exercise and this program, but not the secret."""
    trainee = lab.trainee
    words = ["", exercise.code, trainee.id, lab.lab_number, lab.lab_number.replace("-", ""), str(trainee.attempt)]
    words += ["hopsheet", "trainer", "secret", "class", f"{exercise.code}{trainee.id}{trainee.attempt}"]
    words += ["\x1f".join((exercise.code, trainee.id, str(trainee.attempt)))]
    for word in words:
        text = word.encode()
        yield from (text, text.ljust(32, b"\0"), hashlib.sha256(text).digest(), hmac.digest(b"", text, "sha256"))
    yield from (bytes([value]) * 32 for value in (0, 1, 255))
    alphabet = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
    number = sum(alphabet.index(each) * 32**place for place, each in enumerate(lab.lab_number.replace("-", "")))
    yield from (number.to_bytes(32), number.to_bytes(32, "little"), number.to_bytes(5))


def test_the_lab_is_not_drawn_again_without_the_secret(sitting: Sitting):
    exercise = read_exercise_file(SMALL)
    (lab,) = (sitting.scenario(each.lab) for each in sitting.register().labs if each.trainee == "o01")
    assert drawn(bytes.fromhex(SECRET), exercise, 0) == lab, "with the secret it is"
    tried = list(guesses(exercise, lab))
    assert len(tried) > 50
    for secret in tried:
        other = drawn(secret, exercise, 0)
        assert other.lab_number != lab.lab_number
        assert [station.mac for station in other.stations] != [station.mac for station in lab.stations]


def test_lab_numbers_and_labs_differ_from_secret_to_secret():
    exercise = read_exercise_file(SMALL)
    labs = [drawn(number.to_bytes(32), exercise, 0) for number in range(60)]
    assert len({lab.lab_number for lab in labs}) == len(labs)
    assert len({tuple(station.mac for station in lab.stations) for lab in labs}) == len(labs)


def test_a_secret_has_256_bits_from_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    asked = []
    monkeypatch.setattr("secrets.token_hex", lambda count: asked.append(count) or "ab" * count)
    sitting = Sitting(tmp_path / "s")
    sitting.create()
    assert len(sitting.secret()) * 8 == 256
    assert asked == [32]
