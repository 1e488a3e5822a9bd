"""What a practice lab adds to the log, and what replay makes of it."""

from dataclasses import replace

from learners import log, logged, moment, tried

from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef, RowKey
from trainer.marking.marks import Verdict
from trainer.marking.practice import EXPLANATION, STEPS, Climbed, Progress, SeenCell
from trainer.study.asks import concept_of
from trainer.study.events import Begun, Moment, Tried, lines_of, read_log
from trainer.study.lab_tries import lab_tries
from trainer.study.replay import replayed, score

NOTHING = Progress(lab="AAA-1111")
PREFIX, MAC = CellRef("subnets.prefix", RowKey("31")), CellRef("bindings.mac", RowKey("Binding 1"))


def after(*cells: SeenCell, **more: object) -> Progress:
    return replace(NOTHING, seen=cells, **more)  # type: ignore[arg-type]


def cell(ref: CellRef, now: Verdict, first: Verdict | None = None, **more: object) -> SeenCell:
    return SeenCell(cell=ref, verdict=now, tries=1, first=first or now, **more)  # type: ignore[arg-type]


def test_a_cell_is_one_try_whenever_more_is_known_of_it():
    wrong, right = after(cell(PREFIX, Verdict.WRONG)), after(cell(PREFIX, Verdict.RIGHT, Verdict.WRONG))
    first = lab_tries(wrong, NOTHING, "a", ())
    assert first == (tried(session="a", lab="AAA-1111", row="31", first="wrong", right=False),)
    assert lab_tries(wrong, NOTHING, "a", first) == (), "nothing more is known"
    second = lab_tries(right, wrong, "b", first)
    assert second == (replace(first[0], session="b", right=True),)
    assert lab_tries(wrong, right, "b", (*first, *second)) == (), "a try ends when the cell is right"
    found = replayed(log((moment(), first[0]), (moment(1), second[0])), concept_of)
    assert (found.tried, found.days, found.concepts[Concept.SIZE].sessions) == (1, (moment().day,), 1)
    assert [score(each) for each in (*first, *second)] == [0.0, 0.5]


def test_help_that_was_used_before_a_try_is_noted_with_it():
    asked = after(cell(PREFIX, Verdict.RIGHT), climbed=(Climbed(cell=PREFIX, rung=STEPS),))
    (found,) = lab_tries(asked, NOTHING, "a", ())
    assert (found.first, found.rung, score(found)) == ("right", STEPS, 0.0)
    asked = after(cell(PREFIX, Verdict.WRONG, mistake="one_bit_off", rung=EXPLANATION), shown=(PREFIX,), support=5)
    (found,) = lab_tries(asked, NOTHING, "a", ())
    assert (found.mistake, found.rung, found.shown, found.support, found.d) == ("one_bit_off", 2, True, 5, "0.5")


def test_copies_and_what_stood_there_filled_in_or_was_tried_before_the_log_are_no_tries():
    assert lab_tries(after(cell(MAC, Verdict.RIGHT)), NOTHING, "a", ()) == ()
    assert lab_tries(after(cell(PREFIX, Verdict.RIGHT), filled_in=(PREFIX,)), NOTHING, "a", ()) == ()
    before = after(cell(PREFIX, Verdict.WRONG))
    assert lab_tries(after(cell(PREFIX, Verdict.RIGHT, Verdict.WRONG)), before, "a", ()) == ()
    other = tried(lab="BBB-2222", row="31")
    assert len(lab_tries(before, NOTHING, "a", (other,))) == 1, "another lab's cell is another one"


def test_a_cell_that_was_noted_before_somebody_began_again_counts_no_more():
    first = tried(lab="AAA-1111", row="31")
    found = replayed(log((moment(), first), (moment(1), Begun(start=1, again=True))), concept_of)
    assert found.tried == 0


def test_many_lines_at_once_hold_each_the_digest_of_the_one_before():
    torn = logged((moment(), tried()))[:-9]
    events: list[Tried] = [tried(row=str(number)) for number in range(3)]
    data = torn + "".join(lines_of(events, moment(1), read_log(torn))).encode()
    found = read_log(data)
    assert ([event for _, event in found.events[1:]], found.torn, found.edited) == (events, 1, 0)


def test_what_was_met_in_labs_alone_comes_back_once_its_concept_is_open():
    def met(*asks: str, day: int = 0, lab: str = "AAA-1111") -> list[tuple[Moment, Tried]]:
        return [(moment(day), tried(ask, lab=lab, row=f"{day} {row}")) for ask in asks for row in range(3)]

    def comes_back(*events: tuple[Moment, Tried]) -> set[str]:
        return set(replayed(log(*events), concept_of).cards)

    whole = met("subnets.prefix", "subnets.network", "routes.next_hop")
    assert comes_back(*whole) == {"subnets.prefix"}
    assert comes_back(*whole, *met("routes.next_hop", lab="quick")) == {"subnets.prefix", "routes.next_hop"}
    later = [each for day in (1, 2) for each in met("subnets.prefix", day=day)]
    assert comes_back(*whole, *later) == {"subnets.prefix", "subnets.network"}, "Size is secure, so Place is open"
