"""Where everything of a topology drawing stands: a tree that runs down the page, each switch with its VLANs beside it.

The switches are cards in a column on the left, a parent above its children. A link leaves the lower edge of the upper
switch, and comes in at the upper edge of the lower one; links of a switch with several children run down on the left
of them, the last child's outermost, so that no two links cross. Station ports are on the right edge of a card, each
level with its station.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from trainer.network.devices import SwitchName
from trainer.pages.lettering import Fitted, clean, fitted, flowed, width_of
from trainer.pages.network_view import LinkView, NetworkView, PortView, StationView, SwitchView, VlanView

__all__ = [
    "ABOVE_FACTS",
    "BADGE",
    "BESIDE_TAB",
    "CARD_PADDING",
    "LINE",
    "MARGIN",
    "NAME_SIZE",
    "PADDING",
    "TAB",
    "TEXT",
    "Card",
    "Exit",
    "Layout",
    "Panel",
    "StationRow",
    "Tab",
    "gateway",
    "lay_out",
    "needed",
]

TEXT, NAME_SIZE = 10.0, 14.0
"""Sizes of lettering."""
LINE = 13.0
MARGIN, PADDING, BESIDE_TAB = 12.0, 8.0, 6.0
BADGE, CARD_PADDING = 22.0, 5.0
"""Height of the square with a switch's name, at the top of its card."""
ABOVE_FACTS = 13.0
"""From a panel's upper edge to the baseline of its first fact."""
TAB = 13.0
"""Height of a port's tab."""
_TAB_ROOM, _TABS_APART = 6.0, 3.0
_STRAIGHT, _TURN = 5.0, 9.0
"""Room for a link between two tabs, and for one that turns above the lower tab."""
_CARD, _CABLE = 138.0, 12.0
"""Least width of a card; length of a cable outside the panel."""
_LEAST_PANEL = 290.0
_ICON_ROOM, _STATION = 28.0, 15.0
_PANELS_APART = 4.0
_BEFORE_FACTS, _BETWEEN_FACTS, _MARKS = 14.0, 10.0, 34.0
"""Left of the facts, between two on a line, and for the marks behind them."""
_HEAD = 30.0
"""Height of the line above the drawing."""


@dataclass(frozen=True, slots=True)
class Tab:
    """A port as it is drawn: a box with its number, at the edge of its switch."""

    port: PortView
    x: float
    y: float
    width: float

    @property
    def middle(self) -> float:
        return self.x + self.width / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """A station and its port."""

    station: StationView
    name: Fitted
    is_address_below: bool
    """Whether the address stands on a line of its own, where a long name leaves no room beside it."""
    tab: Tab
    top: float
    middle: float
    """Height of the cable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A VLAN with its stations."""

    vlan: VlanView
    y: float
    height: float
    rows: tuple[StationRow, ...]
    name: Fitted
    is_name_below: bool
    """Whether the VLAN's name stands below its number, where there is no room beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exit:
    """A link from its upper switch down to its lower one."""

    link: LinkView
    lower: SwitchName
    upper_tab: Tab
    lower_tab: Tab
    run: float | None
    """Height at which it turns right to the lower switch; None where it runs straight down."""
    facts: tuple[str, ...]
    """Lines beside the lower end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A switch with what belongs to it."""

    switch: SwitchView
    x: float
    y: float
    width: float
    height: float
    head: float
    """Height of what stands above the routes."""
    badge: float
    """Width of the square with the switch's name."""
    name: Fitted
    place: Fitted
    routes: tuple[str, ...]
    panels: tuple[Panel, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A drawing's parts in their places."""

    width: float
    bottom: float
    """Where the legend may start."""
    cards: tuple[Card, ...]
    exits: tuple[Exit, ...]
    panel_x: float
    facts_x: float
    """Where the facts of a VLAN start, right of its stations."""
    addresses_x: float
    """The right end of the stations' addresses."""
    gateway_x: float | None
    """Where gateways stand behind the networks; None where they stand below."""

    @property
    def is_cramped(self) -> bool:
        """Whether some name ends in an ellipsis, or the server's is broken."""
        panels = [panel for card in self.cards for panel in card.panels]
        rows = [row for panel in panels for row in panel.rows]
        names = [*(panel.name for panel in panels), *(row.name for row in rows), *(card.place for card in self.cards)]
        return any(name.is_shortened for name in names) or any(
            row.station.is_server and len(row.name.lines) > 1 for row in rows
        )


def lay_out(network: NetworkView, width: float) -> Layout:
    """The parts of the drawing in a sheet of that width; wider where so many switches need it."""
    return _Placing(network, width).layout()


@dataclass(frozen=True, slots=True)
class _Node:
    """A switch in the tree."""

    switch: SwitchView
    x: float
    down: tuple[LinkView, ...]
    """Links to its children."""
    is_first_child: bool


class _Placing:
    def __init__(self, network: NetworkView, width: float) -> None:
        self.network = network
        self.switch_by_name = {switch.name: switch for switch in network.switches}
        ends = [port for link in network.links for _, port in link.ends]
        self.widest_link_tab = max((_tab_width(port) for port in ends), default=0.0)
        stations = [station for switch in network.switches for vlan in switch.vlans for station in vlan.stations]
        self.station_tab = max((_tab_width(station.port) for station in stations), default=0.0)
        self.nodes = list(self.tree(self.root(), None, MARGIN, is_first_child=True))
        self.card_right = max(node.x for node in self.nodes) + _CARD
        self.panel_x = self.card_right + self.station_tab + _CABLE
        self.width = max(width, self.panel_x + _LEAST_PANEL + MARGIN)
        self.right = self.width - MARGIN
        self.vlans = [vlan for switch in network.switches for vlan in switch.vlans]
        self.facts_x, self.gateway_x = self.place_facts()

    def place_facts(self) -> tuple[float, float | None]:
        """Where networks and gateways start: on one line if that leaves room for the stations' names on one line each."""
        end = self.right - PADDING
        if self.network.has_key:
            networks = max((width_of(str(vlan.network), TEXT) for vlan in self.vlans), default=0.0)
            gateways = max((width_of(gateway(vlan), TEXT) for vlan in self.vlans), default=0.0)
            gateway_x = end - _MARKS - gateways
            facts_x = gateway_x - _BETWEEN_FACTS - networks
            names = (station for vlan in self.vlans for station in vlan.stations)
            if all(_name_width(station) <= self.name_room(station, facts_x) for station in names):
                return facts_x, gateway_x
        least = max((_least_facts_width(vlan) for vlan in self.vlans), default=0.0)
        wanted = max((_number_width(vlan) + width_of(clean(vlan.name), TEXT) for vlan in self.vlans), default=0.0)
        return end - max(least, min(wanted, (self.right - self.panel_x) * 0.42)), None

    def name_room(self, station: StationView, facts_x: float) -> float:
        return facts_x - _BEFORE_FACTS - PADDING - width_of(station.address, TEXT) - self.panel_x - _ICON_ROOM

    def root(self) -> SwitchName:
        """The switch listed first, but an end of a long chain and the middle of a star."""
        degrees = {switch.name: len(self.links_of(switch.name)) for switch in self.network.switches}
        most = max(degrees.values())
        if len(degrees) > 3 and most == len(degrees) - 1:
            return next(name for name, degree in degrees.items() if degree == most)
        if len(degrees) > 3 and most == 2:
            return next(name for name, degree in degrees.items() if degree == 1)
        return self.network.switches[0].name

    def links_of(self, switch: SwitchName) -> tuple[LinkView, ...]:
        return tuple(link for link in self.network.links if switch in (name for name, _ in link.ends))

    def tree(self, name: SwitchName, above: LinkView | None, x: float, *, is_first_child: bool) -> Iterator[_Node]:
        """The switch and all below it, in the order of the page."""
        down = tuple(link for link in self.links_of(name) if link is not above)
        yield _Node(self.switch_by_name[name], x, down, is_first_child)
        inner = x
        if len(down) > 1:
            inner += PADDING + sum(_tab_width(link.end_at(name)) + _TABS_APART for link in down)
        for place, link in enumerate(down):
            yield from self.tree(_far_end(link, name), link, inner, is_first_child=place == 0)

    def layout(self) -> Layout:
        cards: list[Card] = []
        exits: list[Exit] = []
        above: dict[SwitchName, tuple[LinkView, Tab]] = {}
        y = MARGIN + _HEAD
        for node in self.nodes:
            name = node.switch.name
            if name in above:
                link, upper = above[name]
                facts = self.link_facts(link, node.x)
                middle = node.x + PADDING + self.widest_link_tab / 2
                is_straight = abs(upper.middle - middle) < 0.01
                beside = max(TAB, len(facts) * LINE)
                y += (TAB if node.is_first_child else 0.0) + (_STRAIGHT if is_straight else _TURN) + beside
                lower = _tab_at(link.end_at(name), middle, y - TAB)
                run = None if is_straight else y - beside - _TURN / 2
                exits.append(Exit(link=link, lower=name, upper_tab=upper, lower_tab=lower, run=run, facts=facts))
            card = self.card(node, y)
            cards.append(card)
            y += card.height
            above.update(self.exits_of(node, y))
        return Layout(
            width=self.width,
            bottom=y,
            cards=tuple(cards),
            exits=tuple(exits),
            panel_x=self.panel_x,
            facts_x=self.facts_x,
            addresses_x=self.facts_x - _BEFORE_FACTS,
            gateway_x=self.gateway_x,
        )

    def exits_of(self, node: _Node, y: float) -> Iterator[tuple[SwitchName, tuple[LinkView, Tab]]]:
        """The upper ends of its links: the only one above the lower end, of several the last child's leftmost."""
        name = node.switch.name
        if len(node.down) == 1:
            port = node.down[0].end_at(name)
            tab = _tab_at(port, node.x + PADDING + self.widest_link_tab / 2, y)
            yield _far_end(node.down[0], name), (node.down[0], tab)
            return
        x = node.x + PADDING
        for link in reversed(node.down):
            port = link.end_at(name)
            yield _far_end(link, name), (link, Tab(port, x, y, _tab_width(port)))
            x += _tab_width(port) + _TABS_APART

    def link_facts(self, link: LinkView, x: float) -> tuple[str, ...]:
        room = self.right - (x + PADDING + self.widest_link_tab + BESIDE_TAB)
        items = [f"Link {link.name}"]
        if link.network is not None and link.addresses is not None:
            items.append(str(link.network))
            items.extend(f"{name} {address}" for (name, _), address in zip(link.ends, link.addresses, strict=True))
        return flowed(tuple(map(clean, items)), room, TEXT, ", ")

    def card(self, node: _Node, y: float) -> Card:
        switch, width = node.switch, self.card_right - node.x
        name = fitted(clean(switch.name), 40, NAME_SIZE, most_lines=1, is_bold=True)
        badge = max(BADGE, width_of(name.lines[0], NAME_SIZE, is_bold=True) + 8)
        place = fitted(clean(switch.place), width - badge - 3 * PADDING, TEXT, most_lines=3)
        head = max(BADGE, len(place.lines) * LINE)
        routes = self.routes(switch, width - 2 * PADDING)
        panels = tuple(self.panels(switch, y))
        own = head + 2 * CARD_PADDING + (len(routes) * LINE + 2 if routes else 0)
        height = max([own, *(panel.y + panel.height - y for panel in panels)])
        return Card(
            switch=switch,
            x=node.x,
            y=y,
            width=width,
            height=height,
            head=head,
            badge=badge,
            name=name,
            place=place,
            routes=routes,
            panels=panels,
        )

    def routes(self, switch: SwitchView, room: float) -> tuple[str, ...]:
        lines: list[str] = []
        for route in switch.routes:
            *others, last = route.goals
            goals = (f"to {goal}," if place == 0 else f"{goal}," for place, goal in enumerate(others))
            items = (*goals, f"{last if others else f'to {last}'}", f"via {route.next_hop}")
            lines.extend(flowed(tuple(map(clean, items)), room, TEXT, " "))
        return tuple(lines)

    def panels(self, switch: SwitchView, y: float) -> Iterator[Panel]:
        for vlan in switch.vlans:
            panel = self.panel(vlan, y)
            yield panel
            y += panel.height + _PANELS_APART

    def panel(self, vlan: VlanView, y: float) -> Panel:
        room = self.right - PADDING - self.facts_x
        beside = room - _number_width(vlan)
        is_name_below = width_of(clean(vlan.name), TEXT) > beside
        name = fitted(clean(vlan.name), room if is_name_below else beside, TEXT, most_lines=2)
        rows = tuple(self.stations(vlan, y + 2))
        below = 1 if vlan.network is None or self.gateway_x is not None else 2
        facts = 1 + (len(name.lines) if is_name_below else 0) + below
        bottom = 2 * rows[-1].middle - rows[-1].top if rows else y
        height = max(bottom - y + 2, ABOVE_FACTS + (facts - 1) * LINE + 6)
        return Panel(vlan=vlan, y=y, height=height, rows=rows, name=name, is_name_below=is_name_below)

    def stations(self, vlan: VlanView, y: float) -> Iterator[StationRow]:
        for station in vlan.stations:
            name, is_address_below = self.station_name(station)
            height = max(_STATION, (len(name.lines) + is_address_below) * LINE + 2)
            middle = y + height / 2
            tab = Tab(station.port, self.card_right, middle - TAB / 2, self.station_tab)
            yield StationRow(
                station=station, name=name, is_address_below=is_address_below, tab=tab, top=y, middle=middle
            )
            y += height

    def station_name(self, station: StationView) -> tuple[Fitted, bool]:
        """The name, and whether it takes the whole width, so that the address stands below."""
        text, room = clean(station.name), self.name_room(station, self.facts_x)
        name = fitted(text, room, TEXT, most_lines=2, is_bold=station.is_server)
        if not name.is_shortened and _is_broken_at_spaces(name, text):
            return name, False
        whole = self.facts_x - _BEFORE_FACTS - self.panel_x - _ICON_ROOM
        return fitted(text, whole, TEXT, most_lines=2, is_bold=station.is_server), True


def _is_broken_at_spaces(name: Fitted, text: str) -> bool:
    return " ".join(name.lines) == text


def _far_end(link: LinkView, near: SwitchName) -> SwitchName:
    return next(name for name, _ in link.ends if name != near)


def _tab_width(port: PortView) -> float:
    return max(width_of(clean(port.text), TEXT), TEXT) + _TAB_ROOM


def _tab_at(port: PortView, middle: float, y: float) -> Tab:
    width = _tab_width(port)
    return Tab(port, middle - width / 2, y, width)


def _name_width(station: StationView) -> float:
    return width_of(clean(station.name), TEXT, is_bold=station.is_server)


def _number_width(vlan: VlanView) -> float:
    return width_of(f"VLAN {vlan.number} ", TEXT, is_bold=True) + 2


def _least_facts_width(vlan: VlanView) -> float:
    """What a VLAN's facts take without its name, which may stand on lines of its own."""
    if vlan.network is None:
        return max(_number_width(vlan), width_of(needed(vlan), TEXT))
    return max(width_of(str(vlan.network), TEXT) + _MARKS, width_of(gateway(vlan), TEXT))


def needed(vlan: VlanView) -> str:
    """What the drawing says of a VLAN's size."""
    return f"{vlan.addresses_needed} addresses needed"


def gateway(vlan: VlanView) -> str:
    """What the drawing says of a VLAN's gateway."""
    return f"gateway {vlan.gateway}"
