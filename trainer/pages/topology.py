"""Draws a lab's network on a sheet: every kind of thing has a shape of its own, and every mark a letter."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from trainer.network.devices import PortName, SwitchName
from trainer.pages.lettering import width_of
from trainer.pages.network_view import NetworkView, PortMark, PortView, StationState, VlanView
from trainer.pages.svg import DARK, FILL, INK, MUTED, PAPER, RULE, Sheet
from trainer.pages.topology_layout import (
    ABOVE_FACTS,
    BADGE,
    BESIDE_TAB,
    CARD_PADDING,
    LINE,
    MARGIN,
    NAME_SIZE,
    PADDING,
    TAB,
    TEXT,
    Card,
    Exit,
    Layout,
    Panel,
    StationRow,
    Tab,
    gateway,
    needed,
)

__all__ = ["draw_network", "height_of"]

_DROP = 3.6
"""From the middle of a line of letters down to its baseline."""
_ICON = 16.0
_LEGEND_ROW = 17.0


def height_of(network: NetworkView, layout: Layout) -> float:
    """How high the sheet will be."""
    *_, last = _placed(_legend(network), layout.width)
    return layout.bottom + PADDING + (last.row + 1) * _LEGEND_ROW + MARGIN


def draw_network(network: NetworkView, layout: Layout) -> Sheet:
    """The drawing on a sheet of its own size."""
    sheet = Sheet(layout.width, height_of(network, layout))
    _heading(sheet, network, layout.width)
    for link in layout.exits:
        _link(sheet, link)
    for card in layout.cards:
        _card(sheet, card)
        for panel in card.panels:
            _panel(sheet, panel, layout)
            for row in panel.rows:
                _station(sheet, card.switch.name, row, layout)
    for each in _placed(_legend(network), layout.width):
        y = layout.bottom + PADDING + MARGIN + each.row * _LEGEND_ROW
        _legend_item(sheet, each.item, each.x, y)
    return sheet


def _heading(sheet: Sheet, network: NetworkView, width: float) -> None:
    y = MARGIN + 12
    block = f"Block {network.block}"
    sheet.text(width - MARGIN, y, block, TEXT, anchor="end")
    title = f"Network of lab {network.lab_number}" + (" with the key" if network.has_key else "")
    sheet.text(MARGIN, y, title, 12, fill=DARK, is_bold=True)
    sheet.line((MARGIN, y + 7), (width - MARGIN, y + 7), stroke=RULE)


def _link(sheet: Sheet, link: Exit) -> None:
    upper, lower = link.upper_tab, link.lower_tab
    with sheet.part("link", link.link.name):
        start, end = (upper.middle, upper.y + TAB), (lower.middle, lower.y)
        turns = () if link.run is None else ((upper.middle, link.run), (lower.middle, link.run))
        sheet.line(start, *turns, end, thickness=2.5)
        x = lower.x + lower.width + BESIDE_TAB
        for number, line in enumerate(reversed(link.facts)):
            sheet.text(x, lower.y + TAB / 2 + _DROP - number * LINE, line, TEXT)
    for switch, tab in zip(_ends(link), (upper, lower), strict=True):
        _tab(sheet, switch, tab)


def _ends(link: Exit) -> tuple[SwitchName, SwitchName]:
    """The switches of its upper and its lower end."""
    (first, _), (second, _) = link.link.ends
    return (second, first) if first == link.lower else (first, second)


def _tab(sheet: Sheet, switch: str, tab: Tab) -> None:
    """A port: trusted dark, guarded with a second frame; the letters say the same."""
    with sheet.part("port", f"{switch}/{tab.port.name}"):
        _tab_shape(sheet, tab, tab.port.text)


def _tab_shape(sheet: Sheet, tab: Tab, text: str) -> None:
    is_trusted, is_guarded = PortMark.TRUSTED in tab.port.marks, PortMark.GUARDED in tab.port.marks
    sheet.rect(tab.x, tab.y, tab.width, TAB, fill=DARK if is_trusted else PAPER, stroke=INK)
    if is_guarded:
        sheet.rect(
            tab.x + 1.75, tab.y + 1.75, tab.width - 3.5, TAB - 3.5, stroke=PAPER if is_trusted else INK, thickness=0.75
        )
    fill = PAPER if is_trusted else INK
    sheet.text(tab.middle, tab.y + TAB / 2 + _DROP, text, TEXT, fill=fill, anchor="middle", is_bold=is_trusted)


def _card(sheet: Sheet, card: Card) -> None:
    switch = card.switch
    title = f"{switch.name}: {switch.place}" if card.place.is_shortened or card.name.is_shortened else ""
    with sheet.part("switch", switch.name, title):
        sheet.rect(card.x, card.y, card.width, card.height, fill=PAPER, stroke=INK, thickness=2, corner=2)
        middle = card.y + CARD_PADDING + card.head / 2
        sheet.rect(card.x + PADDING, middle - BADGE / 2, card.badge, BADGE, fill=DARK, corner=2)
        name = card.name.lines[0]
        sheet.text(
            card.x + PADDING + card.badge / 2, middle + 5, name, NAME_SIZE, fill=PAPER, is_bold=True, anchor="middle"
        )
        _lines(sheet, card.x + 2 * PADDING + card.badge - 2, middle, card.place.lines)
        y = card.y + 2 * CARD_PADDING + card.head
        if card.routes:
            sheet.line((card.x + PADDING, y - 1), (card.x + card.width - PADDING, y - 1), stroke=RULE)
            for number, line in enumerate(card.routes):
                sheet.text(card.x + PADDING, y + 10 + number * LINE, line, TEXT)


def _lines(sheet: Sheet, x: float, middle: float, lines: Sequence[str], *, is_bold: bool = False) -> None:
    """Lines of text about the middle."""
    first = middle - (len(lines) - 1) * LINE / 2
    for number, line in enumerate(lines):
        sheet.text(x, first + number * LINE + _DROP, line, TEXT, is_bold=is_bold)


def _panel(sheet: Sheet, panel: Panel, layout: Layout) -> None:
    vlan, right = panel.vlan, layout.width - MARGIN
    title = f"VLAN {vlan.number}: {vlan.name}" if panel.name.is_shortened else ""
    with sheet.part("vlan", str(vlan.number), title):
        sheet.rect(layout.panel_x, panel.y, right - layout.panel_x, panel.height, fill=FILL, stroke=RULE, corner=6)
        _facts(sheet, panel, layout)


def _facts(sheet: Sheet, panel: Panel, layout: Layout) -> None:
    vlan, x, right = panel.vlan, layout.facts_x, layout.width - MARGIN - PADDING
    y = panel.y + ABOVE_FACTS
    number = f"VLAN {vlan.number}"
    sheet.text(x, y, number, TEXT, is_bold=True)
    name_x = x if panel.is_name_below else x + width_of(number + " ", TEXT, is_bold=True) + 2
    for place, line in enumerate(panel.name.lines):
        sheet.text(name_x, y + (place + panel.is_name_below) * LINE, line, TEXT)
    y += LINE * (1 + (len(panel.name.lines) if panel.is_name_below else 0))
    if vlan.network is None:
        sheet.text(x, y, needed(vlan), TEXT, fill=MUTED)
        return
    sheet.text(x, y, str(vlan.network), TEXT)
    if layout.gateway_x is None:
        sheet.text(x, y + LINE, gateway(vlan), TEXT)
    else:
        sheet.text(layout.gateway_x, y, gateway(vlan), TEXT)
    _vlan_marks(sheet, vlan, right, y - _DROP)


def _vlan_marks(sheet: Sheet, vlan: VlanView, right: float, middle: float) -> None:
    if vlan.relay_target is not None:
        _relay_mark(sheet, right - 7, middle)
    if vlan.is_snooped:
        _snooped_mark(sheet, right - 7 - (16 if vlan.relay_target is not None else 0), middle)


def _snooped_mark(sheet: Sheet, x: float, middle: float) -> None:
    with sheet.part("mark", "snooped"):
        sheet.rect(x - 6.25, middle - 6.25, 12.5, 12.5, fill=PAPER, stroke=INK)
        sheet.text(x, middle + _DROP, "S", TEXT, anchor="middle", is_bold=True)


def _relay_mark(sheet: Sheet, x: float, middle: float) -> None:
    with sheet.part("mark", "relay"):
        sheet.circle(x, middle, 6.25, fill=PAPER, stroke=INK)
        sheet.text(x, middle + _DROP, "R", TEXT, anchor="middle", is_bold=True)


def _station(sheet: Sheet, switch: str, row: StationRow, layout: Layout) -> None:
    station, x = row.station, layout.panel_x + PADDING
    with sheet.part("station", station.name, station.name if row.name.is_shortened else ""):
        sheet.line((row.tab.x + row.tab.width, row.middle), (x, row.middle))
        _icon(sheet, x, row.middle, is_server=station.is_server)
        if station.state is not None:
            _state_sign(sheet, x + _ICON - 4, row.middle - 4, station.state)
        name_x = x + _ICON + 4
        if row.is_address_below:
            _lines(sheet, name_x, row.middle - LINE / 2, row.name.lines, is_bold=station.is_server)
            _lines(sheet, name_x, row.middle + LINE * len(row.name.lines) / 2, (station.address,))
        else:
            _lines(sheet, name_x, row.middle, row.name.lines, is_bold=station.is_server)
            sheet.text(layout.addresses_x, row.middle + _DROP, station.address, TEXT, anchor="end")
    _tab(sheet, switch, row.tab)


def _state_sign(sheet: Sheet, x: float, middle: float, state: StationState) -> None:
    """A tick in a circle, a cross in a square, a bar in a triangle: told apart without colour."""
    with sheet.part("mark", state.value):
        if state is StationState.ANSWERS:
            sheet.circle(x, middle, 4.5, fill=PAPER, stroke=INK)
            sheet.line((x - 2.2, middle), (x - 0.6, middle + 1.8), (x + 2.2, middle - 1.8))
        elif state is StationState.NO_LEASE:
            sheet.rect(x - 4.5, middle - 4.5, 9, 9, fill=PAPER, stroke=INK)
            sheet.line((x - 2.5, middle - 2.5), (x + 2.5, middle + 2.5), thickness=1.5)
            sheet.line((x - 2.5, middle + 2.5), (x + 2.5, middle - 2.5), thickness=1.5)
        else:
            corners = (x, middle - 5), (x + 5, middle + 4), (x - 5, middle + 4), (x, middle - 5)
            sheet.line(*corners, thickness=1.5)
            sheet.line((x, middle - 1.5), (x, middle + 2.5), thickness=1.5)


def _icon(sheet: Sheet, x: float, middle: float, *, is_server: bool) -> None:
    """A server is a dark upright box with slots, another station a screen on a foot."""
    if is_server:
        sheet.rect(x + 2, middle - 7, 12, 14, fill=DARK, stroke=INK)
        for slot in (-3.5, 0, 3.5):
            sheet.line((x + 4, middle + slot), (x + 12, middle + slot), stroke=PAPER)
        return
    sheet.rect(x + 1, middle - 6, 14, 9, fill=PAPER, stroke=INK, corner=1)
    sheet.line((x + 8, middle + 3), (x + 8, middle + 6))
    sheet.line((x + 4, middle + 6), (x + 12, middle + 6), thickness=1.5)


@dataclass(frozen=True, slots=True)
class _LegendItem:
    """What a sign means; draw(sheet, x, middle) draws the sign."""

    draw: Callable[[Sheet, float, float], None]
    sign_width: float
    words: str

    @property
    def width(self) -> float:
        return self.sign_width + 5 + width_of(self.words, TEXT)


@dataclass(frozen=True, slots=True)
class _PlacedItem:
    item: _LegendItem
    x: float
    row: int


def _legend(network: NetworkView) -> list[_LegendItem]:
    """Signs that the drawing uses, and no others."""
    items = [
        _LegendItem(_sample_switch, 20, "switch"),
        _LegendItem(_sample_link, 22, "routed link"),
        _sample_tab("port"),
        _LegendItem(lambda sheet, x, y: _icon(sheet, x, y, is_server=True), _ICON, "DHCP server"),
        _LegendItem(lambda sheet, x, y: _icon(sheet, x, y, is_server=False), _ICON, "station"),
        _LegendItem(_sample_panel, 22, "VLAN"),
    ]
    stations = [each for switch in network.switches for vlan in switch.vlans for each in vlan.stations]
    seen = {each.state for each in stations if not each.is_server}
    items += [_sample_state(state) for state in StationState if state in seen]
    if len(seen) > 1:
        items.append(_LegendItem(lambda *_: None, 0, "no sign: not tried"))
    if not network.has_key:
        return [*items, _LegendItem(lambda *_: None, 0, "no. 5: the fifth usable address")]
    relayed = [vlan.relay_target for switch in network.switches for vlan in switch.vlans if vlan.relay_target]
    items += [
        _sample_tab("trusted", PortMark.TRUSTED),
        _sample_tab("guarded", PortMark.GUARDED),
        _LegendItem(lambda sheet, x, y: _snooped_mark(sheet, x + 6.25, y), 12.5, "snooped VLAN"),
    ]
    if relayed:
        relays = f"relay agent to {', '.join(map(str, dict.fromkeys(relayed)))}"
        items.append(_LegendItem(lambda sheet, x, y: _relay_mark(sheet, x + 6.25, y), 12.5, relays))
    return [*items, _LegendItem(lambda *_: None, 0, "to B via: routes to all VLANs of switch B, and their next hop")]


def _placed(items: Sequence[_LegendItem], width: float) -> Iterator[_PlacedItem]:
    x, row = MARGIN, 0
    for item in items:
        if x > MARGIN and x + item.width > width - MARGIN:
            x, row = MARGIN, row + 1
        yield _PlacedItem(item, x, row)
        x += item.width + 14


def _legend_item(sheet: Sheet, item: _LegendItem, x: float, middle: float) -> None:
    with sheet.part("legend", item.words):
        item.draw(sheet, x, middle)
        start = x + (item.sign_width + 5 if item.sign_width else 0)
        sheet.text(start, middle + _DROP, item.words, TEXT)


def _sample_tab(words: str, *marks: PortMark) -> _LegendItem:
    port = PortView(PortName("7"), marks)
    width = width_of(port.text, TEXT) + 8

    def draw(sheet: Sheet, x: float, middle: float) -> None:
        _tab_shape(sheet, Tab(port, x, middle - TAB / 2, width), port.text)

    return _LegendItem(draw, width, words)


def _sample_state(state: StationState) -> _LegendItem:
    return _LegendItem(lambda sheet, x, y: _state_sign(sheet, x + 5, y, state), 10, _STATES[state])


_STATES = {
    StationState.ANSWERS: "answers the server",
    StationState.NO_ANSWER: "does not answer the server",
    StationState.NO_LEASE: "got no lease",
}


def _sample_switch(sheet: Sheet, x: float, middle: float) -> None:
    sheet.rect(x + 1, middle - 6, 18, 12, fill=PAPER, stroke=INK, thickness=2, corner=2)
    sheet.rect(x + 3.5, middle - 3.5, 7, 7, fill=DARK, corner=1)


def _sample_link(sheet: Sheet, x: float, middle: float) -> None:
    sheet.line((x, middle), (x + 22, middle), thickness=2.5)


def _sample_panel(sheet: Sheet, x: float, middle: float) -> None:
    sheet.rect(x, middle - 6, 22, 12, fill=FILL, stroke=RULE, corner=4)
