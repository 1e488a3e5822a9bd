"""Finished workbooks taken apart, for tests of what is in them and what is not."""

import io
import re
import zipfile

import openpyxl


def loaded(data: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(data))


def parts(data: bytes) -> dict[str, str]:
    """Every part of the file as text."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name).decode("utf-8") for name in archive.namelist()}


def plain_words() -> set[str]:
    """The words that the library writes of its own accord: program, creator, theme, fonts."""
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    found = parts(stream.getvalue())
    words = set(re.findall(r"<Application>([^<]+)<", found["docProps/app.xml"]))
    words |= set(re.findall(r"<dc:creator>([^<]+)<", found["docProps/core.xml"]))
    theme = found["xl/theme/theme1.xml"]
    words |= set(re.findall(r'<a:(?:theme|clrScheme|fontScheme|fmtScheme)[^>]* name="([^"]+)"', theme))
    words |= set(re.findall(r'typeface="([^"]+)"', theme))
    words |= set(re.findall(r'<name val="([^"]+)"', found["xl/styles.xml"]))
    assert len(words) > 10, "the plain workbook has such words"
    return words


def words_of_the_library_in(data: bytes) -> list[str]:
    """Which of those words stand in a workbook, and in which part."""
    return [
        f"{word!r} in {name}"
        for name, text in parts(data).items()
        for word in sorted(plain_words())
        if re.search(rf"(?<![A-Za-z]){re.escape(word)}(?![A-Za-z])", text)
    ]
