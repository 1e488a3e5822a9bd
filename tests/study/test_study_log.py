"""The log and its replay: check values of the design, and what happens to logs."""

from datetime import UTC, date, datetime, timedelta

import pytest
from fsrs import Card as PackagedCard
from fsrs import Rating, Scheduler
from learners import MONDAY, log, logged, moment, tried

from trainer.lab.concepts import Concept
from trainer.study.asks import concept_of
from trainer.study.cards import card_after
from trainer.study.events import Begun, Log, Moment, Session, in_order, lines_of, read_log
from trainer.study.order import RESTS_ON, is_open
from trainer.study.replay import Study, replayed, score
from trainer.study.support import chance, level, moved
from trainer.study.today import of_concept, of_today

A, H, G = Rating.Again, Rating.Hard, Rating.Good


def study(found: Log) -> Study:
    return replayed(found, concept_of)


# Check values ---------------------------------------------------------------------------------------------------------


def test_the_rating_moves_as_computed_by_hand():
    """Pelanek 2016, K = 2 / (1 + 0.05 n)."""
    theta, found = 0.0, []
    for n, (d, y) in enumerate([(0, 1), (0, 1), (0.5, 0), (0.5, 1), (0.5, 0.5), (1, 1)]):
        theta = moved(theta, d, y, n)
        found.append(round(theta, 6))
    assert found == [1.0, 1.512269, 0.178698, 1.186770, 0.911357, 1.746791]


def test_chances_are_those_of_the_usual_scale():
    """On the 400-point scale 100 points ahead is .640, 200 is .760; 400 points are ln 10."""
    point = 2.302585 / 400
    assert round(chance(100 * point), 3) == 0.640
    assert round(chance(200 * point), 3) == 0.760


def test_somebody_who_never_planned_begins_with_full_examples():
    assert [level(start) for start in (-1.0, 0.0, 1.0)] == [1, 3, 4]


@pytest.mark.parametrize(
    ("ratings", "gaps"),
    [
        ([G, G, G, G], [2, 11, 46, 60]),
        ([H, G, G, G], [1, 5, 17, 50]),
        ([A, G, G, G], [1, 2, 6, 17]),
        ([G, G, A, G, G], [2, 11, 2, 5, 12]),
    ],
)
def test_a_kind_comes_back_after_the_days_that_were_measured(ratings: list[Rating], gaps: list[int]):
    day, answers, found = MONDAY, [], []
    for rating in ratings:
        answers.append((day, rating))
        due = card_after(answers).due
        found.append((due - day).days)
        day = due
    assert found == gaps


def test_the_package_gives_its_own_published_days():
    """The package's test at 6.3.1, default scheduler without fuzz: Good x6, Again x2, Good x5."""
    scheduler = Scheduler(enable_fuzzing=False)
    at = datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    card, found = PackagedCard(card_id=1, due=at), []
    for rating in [G] * 6 + [A] * 2 + [G] * 5:
        card, _ = scheduler.review_card(card, rating, at)
        assert card.last_review is not None
        found.append((card.due - card.last_review).days)
        at = card.due
    assert found == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


def test_before_an_examination_gaps_are_a_fifth_of_the_days_left():
    answers = [(MONDAY, G), (MONDAY + timedelta(days=2), G)]
    last = answers[-1][0]
    assert card_after(answers).due == last + timedelta(days=11)
    assert card_after(answers, until=last + timedelta(days=20)).due == last + timedelta(days=4)
    assert card_after(answers, until=last + timedelta(days=3)).due == last + timedelta(days=1)
    assert card_after(answers, until=last).due == last + timedelta(days=11), "it is over"


# Replay ---------------------------------------------------------------------------------------------------------------


def three_days(*, support: int = 4, each_day: int = 3, wrong_on: int | None = None) -> Log:
    return log(
        *(
            (
                moment(day),
                tried(
                    session=f"s{day}",
                    support=support,
                    right=day != wrong_on,
                    first="wrong" if day == wrong_on else "right",
                ),
            )
            for day in range(3)
            for _ in range(each_day)
        )
    )


def test_what_a_try_is_worth():
    assert score(tried()) == 1
    assert score(tried(first="follows")) == 1
    assert score(tried(rung=1)) == 0.5, "a hint"
    assert score(tried(first="wrong")) == 0.5, "a second try"
    assert score(tried(rung=2)) == score(tried(rung=3)) == 0, "explained, or shown the steps"
    assert score(tried(shown=True)) == score(tried(right=False)) == 0


def test_secure_is_what_was_right_alone_on_three_practice_days_in_a_row():
    assert study(three_days()).secure == (Concept.SIZE,)
    assert study(three_days(support=3)).secure == (), "with help"
    assert study(three_days(each_day=2)).secure == (), "two tries are no day"
    assert study(three_days(wrong_on=1)).secure == ()
    assert study(three_days(wrong_on=1)).concepts[Concept.SIZE].row == 1


def test_one_bad_day_does_not_take_secure_away_and_two_in_a_row_do():
    events = [(moment(day), tried(session=f"s{day}")) for day in range(3) for _ in range(3)]
    bad = [(moment(day), tried(session=f"s{day}", first="wrong", right=False)) for day in (5, 6)]
    assert study(log(*events, bad[0])).secure == (Concept.SIZE,)
    assert study(log(*events, *bad)).secure == ()
    assert study(log(*events, bad[0], (moment(6), tried(session="t")), bad[1])).secure == (Concept.SIZE,)


def test_the_rating_moves_once_a_session_by_the_share_that_was_right():
    events = [(moment(), tried(session="s", right=right)) for right in (True, False)]
    assert study(log(*events)).concepts[Concept.SIZE].theta == moved(0, 0, 0.5, 0)
    harder = study(log((moment(), tried(d="0.5")))).concepts[Concept.SIZE]
    assert harder.theta == moved(0, 0.5, 1, 0)


def test_of_a_day_only_the_first_answer_to_a_kind_counts_for_its_card():
    events = [(moment(), tried(right=False)), (moment(0, 10), tried()), (moment(0, 11), tried())]
    assert study(log(*events)).cards["subnets.prefix"].due == MONDAY + timedelta(days=1)


def test_one_log_replayed_twice_gives_one_state():
    data = logged(*((moment(day), tried(session=f"s{day}")) for day in range(5)))
    assert study(read_log(data)) == study(read_log(data))


def test_a_kind_that_is_asked_no_more_is_read_over():
    found = study(log((moment(), tried(ask="subnets.colour"))))
    assert (found.tried, found.cards) == (0, {})


def test_every_concept_opens_when_what_it_rests_on_is_secure_and_none_rests_on_itself():
    secure: list[Concept] = []
    while len(secure) < len(Concept):
        opened = [each for each in Concept if each not in secure and is_open(each, secure)]
        assert opened, "a circle"
        secure += opened
    assert RESTS_ON[Concept.RANGE] == (Concept.PLACE,)


# What happens to logs -------------------------------------------------------------------------------------------------


def test_a_torn_last_line_is_read_over_and_the_next_event_begins_a_line():
    whole = logged((moment(), tried()), (moment(1), tried()))
    for cut in range(1, len(whole.splitlines()[-1])):
        torn = read_log(whole[:-1][:-cut])
        assert (len(torn.events), torn.torn, torn.is_open) == (2, 1, True)
        mended = read_log(whole[:-1][:-cut] + lines_of([tried()], moment(2), torn)[0].encode())
        assert (len(mended.events), mended.torn, mended.edited) == (3, 1, 0)


def test_a_whole_last_line_without_its_end_counts():
    found = read_log(logged((moment(), tried()))[:-1])
    assert (len(found.events), found.torn) == (2, 0)
    assert read_log(logged((moment(), tried()))[:-1] + lines_of([tried()], moment(), found)[0].encode()).edited == 0


@pytest.mark.parametrize("edit", ["change", "take out", "swap"])
def test_a_quick_edit_shows(edit: str):
    lines = logged(*((moment(day), tried(row=str(day))) for day in range(4))).splitlines(keepends=True)
    match edit:
        case "change":
            lines[2] = lines[2].replace(b'"right":true', b'"right":false')
        case "take out":
            del lines[2]
        case "swap":
            lines[2], lines[3] = lines[3], lines[2]
    assert read_log(b"".join(lines)).edited > 0
    assert read_log(logged((moment(), tried()))).edited == 0


@pytest.mark.parametrize("line", [b"[]", b"7", b'{"at":"x"}', b"\xff\xfe", b"{" * 5000, b'{"event":"tried"}', b"null"])
def test_whatever_stands_in_a_line_the_others_are_read(line: bytes):
    found = read_log(logged((moment(), tried())) + line + b"\n")
    assert (len(found.events), found.torn) == (2, 1)


def test_a_clock_that_was_set_back_for_a_while_moves_its_events_to_what_stood_before():
    events = [(moment(10), tried()), (moment(11), tried()), (moment(-400), tried()), (moment(12), tried())]
    assert [when.day for when, _ in in_order(events)] == [moment(day).day for day in (10, 11, 11, 12)]


def test_a_clock_that_ran_a_year_ahead_once_does_not_stop_the_days():
    events = [(moment(0), tried()), (moment(365), tried()), (moment(1), tried()), (moment(2), tried())]
    assert [when.day for when, _ in in_order(events)] == [moment(day).day for day in (0, 0, 1, 2)]


def test_today_is_never_before_the_last_practice_day():
    found = study(log((moment(5), tried())))
    today = of_today(found, MONDAY)
    assert (today.day, today.is_clock_back) == (moment(5).day, True)
    assert not of_today(found, moment(6).day).is_clock_back


def test_days_of_another_time_zone_do_not_run_back():
    west = Moment(at=moment(1, 3).at, day=moment(0).day)
    events = [(moment(1, 2), tried()), (west, tried()), (moment(1, 4), tried())]
    assert [when.day for when, _ in in_order(events)] == [moment(1).day] * 3


def test_after_a_years_pause_what_was_known_is_due_and_nothing_is_lost():
    found = study(three_days())
    today = of_today(found, moment(370).day)
    assert today.due == ("subnets.prefix",)
    assert found.secure == (Concept.SIZE,)
    assert today.next is Concept.PLACE


def test_begun_again_what_stood_before_counts_no_more():
    events = [(moment(day), tried(session=f"s{day}")) for day in range(3) for _ in range(3)]
    found = study(log(*events, (moment(4), Begun(start=1, again=True))))
    assert (found.secure, found.tried, found.start) == ((), 0, 1)


def test_until_is_kept_changed_and_taken_back():
    first = (moment(), Begun(until="2026-12-18"))
    assert study(log(first)).until == date(2026, 12, 18)
    assert study(log(first, (moment(), Begun(start=1)))).until == date(2026, 12, 18)
    assert study(log(first, (moment(), Begun(until="")))).until is None
    assert study(log((moment(), Begun(until="soon")))).until is None


def test_a_session_that_did_not_end_is_known():
    begins = (moment(), Session(session="a", what="quick"))
    ends = (moment(), Session(session="a", what="quick", ends=True))
    assert study(log(begins)).open_sessions == {"a": moment().day}
    assert study(log(begins, ends)).open_sessions == {}


# Today ----------------------------------------------------------------------------------------------------------------


def test_next_is_the_earliest_open_concept_that_is_not_done_for_today():
    assert of_today(study(log()), MONDAY).next is Concept.SIZE
    right = log(*((moment(), tried()) for _ in range(3)))
    today = of_today(study(right), MONDAY)
    assert (today.next, today.rests) == (Concept.PORTS, (Concept.SIZE,))
    assert of_today(study(right), moment(1).day).next is Concept.SIZE


def test_a_kind_is_asked_until_three_are_right_a_day():
    assert of_concept(Concept.SIZE, {}) == ("subnets.prefix", "subnets.mask") * 3
    assert of_concept(Concept.SIZE, {"subnets.prefix": 3}) == ("subnets.mask",) * 3
    assert of_concept(Concept.SIZE, {"subnets.prefix": 3, "subnets.mask": 5}) == ()
