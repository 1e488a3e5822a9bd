"""The picture of a lab's network, for the trainee's pages and for the key's."""

from trainer.lab.form import Answers
from trainer.lab.scenario import Scenario
from trainer.pages.account import account
from trainer.pages.network_view import NetworkView, view
from trainer.pages.svg import WIDTH, Drawing
from trainer.pages.topology import draw_network, height_of
from trainer.pages.topology_layout import Layout, lay_out

__all__ = ["Drawing", "draw_topology"]

_TALLEST = 900
"""In CSS pixels: 238 mm, about what an A4 page upright holds below a heading."""
_UNITS = range(540, 681, 20)
"""How many units wide the sheet may be; 10 units are lettering of 9.4 to 7.5 pt."""


def draw_topology(scenario: Scenario, key: Answers | None = None) -> Drawing:
    """The network of a lab: what is given; with the key also addresses, routes, relay agents and protection.

    As large as a page holds; lettering is 7.5 pt at least where the picture is 180 mm wide.
    """
    network = view(scenario, key)
    title = f"Network of lab {scenario.lab_number}" + ("" if key is None else " with the key")
    return draw_network(network, _largest_layout(network)).drawing(title, account(network))


def _largest_layout(network: NetworkView) -> Layout:
    """The one with the largest lettering that is no taller than a page and not cramped; else the roomiest."""
    for units in _UNITS:
        layout = lay_out(network, units)
        if height_of(network, layout) * WIDTH / layout.width <= _TALLEST and not layout.is_cramped:
            break
    return layout
