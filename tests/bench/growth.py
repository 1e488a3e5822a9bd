"""How proving and marking grow with switches and with wrong cells."""

import time
from collections.abc import Callable
from typing import Any

from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled
from papers_to_grade import wrong

from trainer.commands.demo_class import key_texts
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark

AIMS = {"prove": "at most 3 s", "mark the key": "at most 2 s"}


def report(load: float) -> None:
    """load: milliseconds."""
    for switches in (2, 10, 25, 50):
        scenario = chain(switches)
        key = derive_key(scenario)
        _tell(f"prove {switches} switches", "prove", load, switches == 50, prove, scenario, key)
        texts = key_texts(scenario)
        _tell(f"mark the key of {switches}", "mark the key", load, switches == 50, mark, scenario, filled(texts))
    scenario = draw(exercise_of(HARBOUR), 1)[0]
    for count in (0, 5, 10, 20, 40):
        paper = filled(wrong(scenario, count))
        mark(scenario, paper)
        _tell(f"mark, {count} wrong", "", load, False, mark, scenario, paper)


def chain(switches: int) -> Scenario:
    """A lab of so many switches in a row, each with a network."""
    names = [
        chr(65 + each) if each < 26 else f"{chr(64 + each // 26)}{chr(65 + each % 26)}" for each in range(switches)
    ]
    before = dict(zip(names, ["", *names], strict=False))
    return draw(exercise_of(changed(tables=shaped(before))), 1)[0]


def _tell(what: str, aim: str, load: float, has_aim: bool, work: Callable[..., Any], *arguments: Any) -> None:
    begun = time.process_time()
    work(*arguments)
    milliseconds = (time.process_time() - begun) * 1000
    told = f"   (aim: {AIMS[aim]})" if has_aim else ""
    print(f"  {what + ':':<36} {milliseconds:8.1f} ms   {milliseconds / load:8.2f} loads{told}")
