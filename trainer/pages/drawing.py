"""Pictures for pages: SVG that stands by itself, inline in HTML or as an image on paper, with words for who cannot see it."""

from dataclasses import dataclass

from trainer.lab.form import Answers
from trainer.lab.scenario import Scenario
from trainer.pages.account import account
from trainer.pages.lettering import clean
from trainer.pages.network_view import NetworkView, view
from trainer.pages.topology import draw_network, height_of
from trainer.pages.topology_layout import Layout, lay_out

__all__ = ["Drawing", "draw_topology"]

_WIDTH = 680
"""In CSS pixels, 96 an inch: 180 mm, what an A4 page upright holds between its margins."""
_TALLEST = 900
"""In CSS pixels: 238 mm, about what such a page holds below a heading."""
_UNITS = (540.0, 600.0, 640.0, 680.0)
"""How many units wide the sheet may be; 10 units are lettering of 9.4, 8.5, 8 and 7.5 pt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A picture."""

    svg: str
    """One svg element that refers to nothing outside; its own title and description are what a screen reader tells."""
    title: str
    description: str
    """What it shows, in sentences."""
    width: int
    """In CSS pixels; at most 680, 180 mm."""
    height: int


def draw_topology(scenario: Scenario, key: Answers | None = None) -> Drawing:
    """The network of a lab: what is given; with the key also addresses, routes, relay agents and protection.

    As large as a page holds; lettering is 7.5 pt at least where the picture is 180 mm wide.
    """
    network = view(scenario, key)
    layout = _largest_layout(network)
    sheet = draw_network(network, layout)
    height = round(sheet.height * _WIDTH / sheet.width)
    title = clean(f"Network of lab {scenario.lab_number}" + ("" if key is None else " with the key"))
    description = clean(account(network))
    svg = sheet.rendered(title=title, description=description, width=_WIDTH, height=height)
    return Drawing(svg=svg, title=title, description=description, width=_WIDTH, height=height)


def _largest_layout(network: NetworkView) -> Layout:
    """The one with the largest lettering that is no taller than a page and shortens no name; else the roomiest."""
    for units in _UNITS:
        layout = lay_out(network, units)
        if height_of(network, layout) * _WIDTH / layout.width <= _TALLEST and not layout.is_shortened:
            break
    return layout
