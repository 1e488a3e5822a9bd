"""From a workbook to bytes: the same content always gives the same bytes, and nothing says which program wrote it."""

import io
import re
import zipfile
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.writer.excel import ExcelWriter

from trainer.sheets.style import THEME, set_default_font

__all__ = ["new_workbook", "to_bytes"]

_WHEN = (2020, 1, 1, 0, 0, 0)
"""The time of every part: fixed, so that file times tell nothing and runs can be compared."""
_WHEN_TEXT = "2020-01-01T00:00:00Z"

_APP = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
    '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
    "<Application>hopsheet</Application></Properties>"
)


class _Package(zipfile.ZipFile):
    """A zip file with fixed times and with our own words about the program."""

    def writestr(self, zinfo_or_arcname: str | zipfile.ZipInfo, data: Any, *_: Any, **__: Any) -> None:
        name = zinfo_or_arcname if isinstance(zinfo_or_arcname, str) else zinfo_or_arcname.filename
        if name == "docProps/app.xml":
            data = _APP
        elif name == "docProps/core.xml":
            text = data.decode() if isinstance(data, bytes) else data
            data = re.sub(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", _WHEN_TEXT, text)
        info = zipfile.ZipInfo(name, _WHEN)
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        super().writestr(info, data)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **__: Any) -> None:
        self.writestr(str(arcname), Path(filename).read_bytes())


def new_workbook(title: str, identifier: str = "") -> Workbook:
    """A workbook without sheets, in our font and colours. identifier: that core property, a spare for the lab number."""
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    set_default_font(workbook)
    workbook.loaded_theme = THEME
    workbook.properties.creator = "hopsheet"
    workbook.properties.title = title
    workbook.properties.identifier = identifier or None
    return workbook


def to_bytes(workbook: Workbook) -> bytes:
    """The finished file."""
    out = io.BytesIO()
    ExcelWriter(workbook, _Package(out, "w", zipfile.ZIP_DEFLATED)).save()
    return out.getvalue()
