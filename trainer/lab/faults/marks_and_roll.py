"""What is wrong with what is asked and with the roll: sheets Marks and Trainees."""

import re
from collections.abc import Iterator

from trainer.lab.exercise import Exercise
from trainer.lab.faults.fault import Check, Fault, FieldRef, fault_in_row, repeated
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, SectionShare
from trainer.lab.unread import known, until_unread

__all__ = ["MARKS_AND_ROLL_AS_THEY_STAND", "MOST_TRAINEES", "empty_sections"]

MOST_TRAINEES = 10_000
"""A national round; more than that is a mistake in the workbook."""


def _section_rows(exercise: Exercise) -> Iterator[Fault]:
    """No sheet of the form stands twice in table Marks. One without a row is not asked."""
    for row, section in repeated(known(exercise.sections, lambda share: share.section)):
        title = SECTIONS[str(section)].title
        yield fault_in_row(
            "sections", row, "section", title, "every sheet of the form stands here once", "Take one row away."
        )


def _shares(exercise: Exercise) -> Iterator[Fault]:
    asked = [share for share in exercise.sections if share.asked is Asked.YES]
    if not asked:
        yield Fault(
            at=FieldRef("sections", None, "asked"),
            found="no sheet that is asked",
            wanted="a lab asks at least one sheet, and what is only given or left out earns nothing",
            fix="Write yes beside one sheet or more, and give those 100 in all under Share.",
        )
        return
    total = sum(share.share for share in asked)
    if total != 100:
        yield Fault(
            at=FieldRef("sections", None, "share"),
            found=f"{total} in all",
            wanted="the shares of the sections that are asked add up to 100",
            fix=f"{'Add' if total < 100 else 'Take away'} {abs(100 - total)}.",
        )


def empty_sections(exercise: Exercise) -> Iterator[Fault]:
    """Sections that are asked and have no row: their share could be earned by nobody."""
    for row, share in enumerate(exercise.sections):
        yield from until_unread(_empty_section(exercise, row, share))


def _empty_section(exercise: Exercise, row: int, share: SectionShare) -> Iterator[Fault]:
    if share.asked is Asked.YES and not _has_rows(exercise, share.section):
        yield fault_in_row(
            "sections",
            row,
            "asked",
            "yes",
            "no network of this exercise gives that sheet a row, so nobody could earn its share",
            "Write no, or change sheet Networks.",
        )


def _has_rows(exercise: Exercise, section: str) -> bool:
    networks = exercise.networks
    match section:
        case "pools":
            return any(each.dhcp_stations for each in networks)
        case "relays":
            return any(each.dhcp_stations and each.number != exercise.server_network for each in networks)
        case "bindings":
            learnt = any(each.dhcp_stations and each.is_snooped for each in networks)
            return learnt or any(each.is_guarded and each.fixed_stations for each in networks)
        case "links":
            return bool(exercise.links)
        case "routes":
            asked = [switch.name for switch in exercise.switches if switch.asks_routes]
            return len(exercise.switches) < 2 or any(name != each.switch for name in asked for each in networks)
    return True


def _crowd(exercise: Exercise) -> Iterator[Fault]:
    if not 1 <= len(exercise.trainees) <= MOST_TRAINEES:
        yield Fault(
            at=FieldRef("trainees", None, "id"),
            found=f"{len(exercise.trainees)} trainees",
            wanted=f"a sitting has 1 to {MOST_TRAINEES} trainees",
            fix="Paste the class into this sheet: id and name.",
        )


def _ids(exercise: Exercise) -> Iterator[Fault]:
    ids = dict(known(exercise.trainees, lambda trainee: trainee.id))
    for row, _ in repeated((row, each.casefold()) for row, each in ids.items()):
        yield fault_in_row(
            "trainees",
            row,
            "id",
            repr(ids[row]),
            "no two trainees have the same id, capital or small letters alike",
            "Write another id.",
        )
    for row, each in ids.items():
        if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,19}", each) or each.endswith("."):
            is_name = re.search(r"[^\W\d_][\s,]+[^\W\d_]", each)
            yield fault_in_row(
                "trainees",
                row,
                "id",
                repr(each),
                f"{'this looks like a name, and ' if is_name else ''}an id stands in file names: 1 to 20 letters a to z, digits, "
                "hyphens, underscores and dots inside",
                "Write an id such as h01 here, and the name under Name." if is_name else "Write one such as h01.",
            )


def _extra_minutes(exercise: Exercise) -> Iterator[Fault]:
    """Nobody has more time than none."""
    if exercise.minutes is None:
        for row, minutes in known(exercise.trainees, lambda trainee: trainee.extra_minutes):
            if minutes:
                yield fault_in_row(
                    "trainees",
                    row,
                    "extra_minutes",
                    str(minutes),
                    "extra minutes come on top of those of the exercise, and sheet Exercise sets none",
                    "Write Minutes on sheet Exercise, or leave this blank.",
                )


MARKS_AND_ROLL_AS_THEY_STAND: tuple[Check, ...] = (_section_rows, _shares, _crowd, _ids, _extra_minutes)
"""Checks of the workbook as it was written."""
