"""What the pages have in common that are shown while the program runs, with forms that work without JavaScript."""

from functools import cache
from importlib import resources

__all__ = ["local_style"]


@cache
def local_style() -> bytes:
    """The style sheet: that of all pages, and what only forms need."""
    folder = resources.files("trainer.pages").joinpath("templates")
    return b"".join(folder.joinpath(name).read_bytes() for name in ("style.css", "forms.css"))
