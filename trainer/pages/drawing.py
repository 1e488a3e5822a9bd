"""A picture with the words that stand for it."""

from dataclasses import dataclass

__all__ = ["Drawing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """An SVG picture that needs nothing from elsewhere."""

    svg: str
    title: str
    description: str
    """What it shows, for whoever does not see it."""
    width: int
    height: int
