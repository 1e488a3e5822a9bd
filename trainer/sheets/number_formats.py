"""What a person reads in a cell that holds a number: a decimal, a percentage, a date or a time.

A workbook keeps a date as a count of days and tells it from other numbers by the cell's number format alone (ECMA-376
part 1, 18.8.30, quoted from memory). Nothing else of a format matters here: decimals, currency and colours are passed
over.
"""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from enum import Enum

__all__ = ["BUILT_IN_FORMATS", "NumberFormat", "decimal_text", "read_format", "shown_date", "shown_time"]

MAX_FORMAT_LENGTH = 255
"""Longest format code that a spreadsheet program takes; what stands behind it is not looked at."""
LARGEST_EXACT_DIGITS = 21
"""From here on a decimal is shown with an exponent, as 1E+21, so that no cell becomes hundreds of digits long."""

_NOISE = 1e-9
"""By less than this a number may be off a whole one and be that: it is what is left over from calculating with fractions."""

_SECONDS_A_DAY = 86_400
_LAST_SERIAL = 2_958_465
"""9999-12-31 counted from 1900, the last date that spreadsheet programs show."""
_LEAP_DAY_OF_1900 = 60
"""Serial number of 1900-02-29, a day that never was but that spreadsheet programs count."""
_DAY_0_OF_1904 = date(1904, 1, 1).toordinal()
_DAY_0_OF_1900 = date(1899, 12, 30).toordinal()

_LITERAL_PARTS = re.compile(r'"[^"]*"?|\[[^\]]*\]?|[\\_*].?', re.DOTALL)
"""Quoted, bracketed and escaped characters. An open quote or bracket runs to the end, which keeps this linear."""
_ELAPSED = re.compile(r"\[(?:h+|m+|s+|ช+|น+|ท+)\]", re.IGNORECASE)
_CONDITION = re.compile(r"\[[<>=]")
_NO_LETTERS = re.compile(r"general|standard|e[+-]|am/pm|a/p")
"""What has letters in it that mean no day and no year: any number, an exponent, halves of a day."""
_OF_DATES = frozenset("dyegbajt年月日วดป")
"""Day, month and year: of the standard; years of emperors and of the Buddhist era; weekdays and years as programs in some
languages write them; and in Chinese, Japanese and Thai."""
_OF_TIMES = frozenset("hs时時分秒ชนท")


class NumberFormat(Enum):
    """What a number format makes of a number."""

    PLAIN = "plain"
    DATE = "date"
    """With a day, month or year in it; perhaps a time too."""
    TIME = "time"
    """A time of day: whole days are not shown."""
    ELAPSED = "elapsed"
    """A duration: hours count on past 24."""
    PERCENT = "percent"


BUILT_IN_FORMATS: Mapping[int, NumberFormat] = {
    **dict.fromkeys((9, 10), NumberFormat.PERCENT),
    **dict.fromkeys((14, 15, 16, 17, 22), NumberFormat.DATE),
    **dict.fromkeys((18, 19, 20, 21, 45, 47), NumberFormat.TIME),
    46: NumberFormat.ELAPSED,
    # Used by programs in Chinese, Japanese and Korean without a code in the file; some of 34, 35, 55 and 56 are times
    # there, depending on the language, and pass as dates here.
    **dict.fromkeys((*range(27, 32), *range(34, 37), *range(50, 59)), NumberFormat.DATE),
    **dict.fromkeys((32, 33), NumberFormat.TIME),
    # The same in programs in Thai.
    **dict.fromkeys((67, 68), NumberFormat.PERCENT),
    **dict.fromkeys((71, 72, 73, 74, 77, 81), NumberFormat.DATE),
    **dict.fromkeys((75, 76, 78, 80), NumberFormat.TIME),
    79: NumberFormat.ELAPSED,
}
"""Formats that a file names by number alone; a number that is not here is plain."""


def read_format(code: str) -> NumberFormat:
    """What a format code such as "dd/mm/yyyy" makes of a number.

    Its first section is for positive numbers; where that has a condition, another may be meant, and the first one counts that
    makes something else than a number of it.

    >>> read_format('0.0" days"'), read_format("[<1]0;dd/mm")
    (<NumberFormat.PLAIN: 'plain'>, <NumberFormat.DATE: 'date'>)
    """
    sections = _split(code[:MAX_FORMAT_LENGTH])
    found = map(_read_section, sections if _CONDITION.search(sections[0]) else sections[:1])
    return next((each for each in found if each is not NumberFormat.PLAIN), NumberFormat.PLAIN)


def _split(code: str) -> list[str]:
    """The sections of a code; a semicolon inside quotes or brackets divides nothing."""
    hidden = _LITERAL_PARTS.sub(lambda found: found[0].replace(";", " "), code)
    return hidden.split(";")


def _read_section(section: str) -> NumberFormat:
    text = _NO_LETTERS.sub("", _LITERAL_PARTS.sub("", section).lower())
    letters = set(text)
    if letters & _OF_DATES:
        return NumberFormat.DATE
    if _ELAPSED.search(section):
        return NumberFormat.ELAPSED
    if letters & _OF_TIMES:
        return NumberFormat.TIME
    if "m" in letters:  # minutes only beside hours or seconds, else months
        return NumberFormat.DATE
    return NumberFormat.PERCENT if "%" in letters else NumberFormat.PLAIN


def decimal_text(number: float) -> str:
    """The shortest decimal of at most 15 significant digits, which is what spreadsheet programs keep; a number that is off a
    whole one by less than a thousand-millionth is that one.

    >>> decimal_text(24.0), decimal_text(28.0000000001), decimal_text(10.00000000000004), decimal_text(2e30)
    ('24', '28', '10', '2E+30')
    """
    if number == 0:
        return "0"  # not "-0"
    if 1 - _NOISE < abs(number) < 2**53 and abs(number - round(number)) < _NOISE:
        number = round(number)
    text = f"{number:.15g}"
    if 1e-9 <= abs(number) < 10**LARGEST_EXACT_DIGITS:
        return format(Decimal(text), "f")
    return text.upper()


def shown_date(serial: float, *, counts_from_1904: bool) -> str | None:
    """The date in ISO 8601 form, with the time of day where it is not midnight; None where there is no such date.

    From 1900: 1 is 1900-01-01; 0 and 60 are shown as spreadsheet programs show them, "1900-01-00" and "1900-02-29".
    From 1904: 0 is 1904-01-01.

    >>> shown_date(46046.5, counts_from_1904=False)
    '2026-01-24 12:00:00'
    """
    if not 0 <= serial < _LAST_SERIAL + 1:
        return None
    days, seconds = divmod(round(serial * _SECONDS_A_DAY), _SECONDS_A_DAY)
    day = _day_from_1904(days) if counts_from_1904 else _day_from_1900(days)
    return f"{day} {_clock(seconds)}" if day and seconds else day


def shown_time(serial: float, *, elapsed: bool) -> str | None:
    """The time as "08:00:00", a duration past a day as "24:00:00"; None for a negative or absurdly large number."""
    if not 0 <= serial < _LAST_SERIAL + 1:
        return None
    seconds = round(serial * _SECONDS_A_DAY)
    return _clock(seconds if elapsed else seconds % _SECONDS_A_DAY)


def _day_from_1904(days: int) -> str | None:
    ordinal = _DAY_0_OF_1904 + days
    return date.fromordinal(ordinal).isoformat() if ordinal <= date.max.toordinal() else None


def _day_from_1900(days: int) -> str | None:
    if days == 0:
        return "1900-01-00"
    if days == _LEAP_DAY_OF_1900:
        return "1900-02-29"
    ordinal = _DAY_0_OF_1900 + days + (days < _LEAP_DAY_OF_1900)
    return date.fromordinal(ordinal).isoformat() if ordinal <= date.max.toordinal() else None


def _clock(seconds: int) -> str:
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"
