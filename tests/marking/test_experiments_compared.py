"""The quick experiments say what the plain ones say, word for word, whatever is wrong with a paper.

TRAINER_NIGHTLY=1 compares 300 papers and more, else a few of every exercise.
"""

import os
import random

import pytest
from damaged_answers import randomly_damaged
from filled_forms import filled
from plain_laboratory import the_plain_way
from random_papers import EXERCISES, lab_of

from trainer.commands.demo_class import key_texts
from trainer.lab.form import Answers, CellRef
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark

IS_NIGHTLY = bool(os.environ.get("TRAINER_NIGHTLY"))
PAPERS = 45 if IS_NIGHTLY else 1


def damaged_paper(lab: Scenario, rng: random.Random) -> dict[CellRef, str]:
    """The key with up to twenty wrong values, some cells blank, and now and then a whole row or sheet."""
    key = derive_key(lab)
    damaged = randomly_damaged(lab, key, rng, rng.choice([None, 1, 3, 10, 20]))
    texts = key_texts(lab, Answers(values={**key.values, **damaged.values}, rows=key.rows))
    blank_cells = len(key.values.keys() - damaged.values.keys()) + rng.randint(0, 3)
    for cell in rng.sample(sorted(texts, key=str), blank_cells):
        del texts[cell]
    gone = rng.choice([None, None, *sorted({(cell.section, cell.row) for cell in texts})])
    texts = {cell: text for cell, text in texts.items() if (cell.section, cell.row) != gone}
    blank = rng.choice([None, None, None, None, *sorted({cell.section for cell in texts})])
    return {cell: text for cell, text in texts.items() if cell.section != blank}


@pytest.mark.parametrize("exercise", sorted(EXERCISES))
def test_damaged_papers_are_told_the_same(exercise: str):
    told = 0
    for number in range(PAPERS):
        rng = random.Random(f"{exercise} {number}")
        lab = lab_of(exercise, number % 10)
        form = filled(damaged_paper(lab, rng))
        quick = mark(lab, form)
        with the_plain_way():
            assert mark(lab, form) == quick, number
        assert mark(lab, form, is_key_proved=True) == quick, number
        told += sum(each.explanation is not None and each.explanation.seen != "" for each in quick.cells)
    assert told or not IS_NIGHTLY
