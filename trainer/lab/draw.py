"""How a lab is drawn, and what seeds there are: `draw_class` draws what a sitting's labs have in common, `draw_lab` one trainee's
lab. `class_seed` and `lab_seed` are what a sitting draws from.

The network is left to draw_network.py, what is wrong in it, in a sitting about faults, to repair/drawing.py. Every draw comes
from a random generator that is handed in, so callers decide on the seed: DEVELOPERS, "Where labs are drawn", lists them.
"""

import hashlib
import hmac
import itertools
import math
import random
from collections.abc import Container
from dataclasses import replace

from trainer.lab.draw_network import ClassDraw, draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.repair.drawing import faults_in_common, with_faults
from trainer.lab.scenario import Scenario, Trainee

__all__ = [
    "ClassDraw",
    "class_seed",
    "draw_class",
    "draw_lab",
    "lab_number",
    "lab_seed",
    "lab_slot",
    "seed_of",
    "slot_of",
]

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""Without the letters and digits that are taken for one another on paper."""


def draw_class(exercise: Exercise, rng: random.Random) -> ClassDraw:
    """What a sitting has in common. rng: of class_seed.

    Raises NoFaultFound where no lab of the exercise has faults such as it asks for.
    """
    common = draw_for_class(exercise, rng)
    rules = exercise.repair_rules
    return common if rules is None else replace(common, repair=faults_in_common(exercise, common, rules, rng))


def draw_lab(
    exercise: Exercise, common: ClassDraw, trainee: Trainee, number: str, slot: int, rng: random.Random
) -> Scenario:
    """One trainee's lab. number: from lab_number; slot: from lab_slot; rng: of lab_seed.

    The exercise is possible (faults.find_faults); then every draw of a network succeeds. Raises NoFaultFound where none of the
    labs that were drawn has faults as hard as the class's.
    """
    wanted = common.repair
    if wanted is None:
        return draw_scenario(exercise, common, trainee, number, slot, rng)
    return with_faults(lambda: draw_scenario(exercise, common, trainee, number, slot, rng), wanted, rng)


def class_seed(secret: bytes, exercise_code: str) -> int:
    """What the common draw of a sitting is drawn from."""
    return seed_of(secret, exercise_code, "class")


def seed_of(secret: bytes, *words: str) -> int:
    """A seed that nobody can tell without the sitting's secret (HMAC-SHA256, RFC 2104)."""
    message = "\x1f".join(words).encode()
    return int.from_bytes(hmac.new(secret, message, hashlib.sha256).digest())


def lab_number(secret: bytes, exercise_code: str, trainee: Trainee, taken: Container[str] = ()) -> str:
    """A short code for a trainee's lab, such as "ED3-NJAT", that is not taken yet."""
    for tries in itertools.count():
        rest = seed_of(secret, exercise_code, trainee.id, str(trainee.attempt), "lab number", str(tries))
        letters = []
        for _ in range(7):
            rest, place = divmod(rest, len(_LETTERS))
            letters.append(_LETTERS[place])
        number = "".join(letters[:3]) + "-" + "".join(letters[3:])
        if number not in taken:
            return number
    raise AssertionError("there is always another one to try")


def lab_seed(secret: bytes, exercise: Exercise, trainee: Trainee) -> int:
    """What a trainee's lab of a sitting is drawn from; with one lab for all, the same for everybody."""
    words = ("one for all",) if exercise.one_lab_for_all else (trainee.id, str(trainee.attempt))
    return seed_of(secret, exercise.code, *words)


def lab_slot(secret: bytes, exercise: Exercise, common: ClassDraw, index: int) -> int:
    """The address slot of the index-th lab of a sitting; with one lab for all, everybody's is the first."""
    slots = exercise.separate_labs(common.block_length)
    return slot_of(secret, exercise.code, 0 if exercise.one_lab_for_all else index, slots)


def slot_of(secret: bytes, exercise_code: str, index: int, slots: int) -> int:
    """The index-th of a permutation of 0 .. slots - 1, keyed by the secret.

    As long as index < slots no two labs share a slot, and adding labs moves none. Past that slots are used again.
    """
    step = seed_of(secret, exercise_code, "step") % slots
    while math.gcd(step, slots) != 1:
        step += 1
    return (index * step + seed_of(secret, exercise_code, "offset")) % slots
