"""Pictures of the lessons: bits, a block cut up, one network, a packet's way, the exchange through a relay agent, a binding
table and what guard compares with it. Each tells itself in words too, for who cannot see it.
"""

from collections.abc import Sequence

from trainer.lab.concepts import Concept
from trainer.pages.block_picture import draw_block
from trainer.pages.lettering import fitted
from trainer.pages.svg import DARK, FILL, INK, MUTED, PAPER, RULE, WIDTH, Drawing, Sheet
from trainer.study.lesson import Hop, Lesson

__all__ = ["lesson_pictures"]

_MARGIN, _HEAD = 14.0, 38.0
_TEXT, _SMALL, _TINY, _LINE = 12.0, 10.5, 9.5, 15.0
_ROOM = WIDTH - 2 * _MARGIN


def lesson_pictures(concept: Concept, lesson: Lesson) -> tuple[Drawing, ...]:
    """The pictures of a concept, in order."""
    match concept:
        case Concept.SIZE:
            return (_bits(lesson),)
        case Concept.PLACE:
            return (draw_block(lesson.scenario, lesson.network),)
        case Concept.LINK:
            return (draw_block(lesson.scenario, lesson.link_network),)
        case Concept.RANGE | Concept.GATEWAY | Concept.FIXED | Concept.POOL:
            return (_network(lesson),)
        case Concept.PORTS | Concept.ROUTES:
            return (_way(lesson.way, "there"),)
        case Concept.RETURN_PATH:
            return (_way(lesson.way, "there"), _way(lesson.way_back, "back"))
        case Concept.RELAY | Concept.SNOOPING:
            return (_exchange(lesson),)
        case Concept.BINDINGS | Concept.GUARD:
            return (_bindings(lesson),)


def _sheet(title: str, height: float) -> Sheet:
    sheet = Sheet(WIDTH, _HEAD + height + _MARGIN)
    sheet.text(_MARGIN, _MARGIN + 12, title, 13, fill=DARK, is_bold=True)
    sheet.line((_MARGIN, _HEAD - 6), (WIDTH - _MARGIN, _HEAD - 6), stroke=RULE)
    return sheet


def _lines(sheet: Sheet, x: float, y: float, text: str, room: float, *, fill: str = INK, middle: bool = False) -> float:
    """The text in lines below y; gives where the last one stands."""
    for line in fitted(text, room, _SMALL, most_lines=5).lines:
        y += _LINE - 2
        sheet.text(x, y, line, _SMALL, fill=fill, anchor="middle" if middle else "start")
    return y


def _arrow(sheet: Sheet, start: tuple[float, float], end: tuple[float, float]) -> None:
    """From left to right or from right to left."""
    sheet.line(start, end, stroke=DARK, thickness=1.5)
    x, y = end
    for place, height in enumerate((2, 5, 8)):  # a head that grows in steps: lines run along the axes
        left = x - 2 * (place + 1) if x > start[0] else x + 2 * place
        sheet.rect(left, y - height / 2, 2, height, fill=DARK)


# Size -----------------------------------------------------------------------------------------------------------------


def _bits(lesson: Lesson) -> Drawing:
    length = lesson.network.prefixlen
    title = f"The mask of a /{length}, bit by bit"
    sheet = _sheet(title, 92)
    gap, width = 12.0, (_ROOM - 3 * 12.0) / 32
    octets = str(lesson.values["mask"]).split(".")
    for bit in range(32):
        octet = bit // 8
        x, is_one = _MARGIN + bit * width + octet * gap, bit < length
        with sheet.part("bit", str(bit)):
            sheet.rect(x + 1, _HEAD + 6, width - 2, 26, fill=DARK if is_one else PAPER, stroke=DARK)
            fill = PAPER if is_one else INK
            sheet.text(x + width / 2, _HEAD + 24, "1" if is_one else "0", _TEXT, fill=fill, anchor="middle")
    for octet, value in enumerate(octets):
        x = _MARGIN + octet * (8 * width + gap) + 4 * width
        sheet.text(x, _HEAD + 52, value, _TEXT, is_bold=True, anchor="middle")
    ones = f"{length} ones: the network part"
    zeros = f"{32 - length} zeros, the host bits: 2^{32 - length} = {2 ** (32 - length)} addresses"
    sheet.text(_MARGIN, _HEAD + 80, ones, _TEXT)
    sheet.text(WIDTH - _MARGIN, _HEAD + 80, zeros, _TEXT, anchor="end")
    said = (
        f"32 bits in four numbers, {', '.join(octets)}. The first {length} bits are ones, the last {32 - length} zeros."
    )
    return sheet.drawing(title, f"{said} The zeros count 2^{32 - length} = {2 ** (32 - length)} addresses.")


# Range, gateway, fixed, pool ------------------------------------------------------------------------------------------


def _network(lesson: Lesson) -> Drawing:
    title = f"Network {lesson.network} of VLAN {lesson.vlan.number}, not to scale"
    at = {name: str(address) for name, address in lesson.addresses.items()}
    parts = (
        ("network address", at["network"], ""),
        ("gateway", at["gateway"], ""),
        ("reserved for static", f"to {at['kept up to']}", lesson.fixed.name),
        ("pool, from", at["pool from"], lesson.client.name),
        ("pool, to", at["pool to"], ""),
        ("broadcast", at["broadcast"], ""),
    )
    sheet = _sheet(title, 96)
    width = _ROOM / len(parts)
    for place, (what, address, who) in enumerate(parts):
        x = _MARGIN + place * width
        is_end = place in (0, len(parts) - 1)
        with sheet.part("part", what):
            sheet.rect(x + 1, _HEAD + 6, width - 2, 40, fill=MUTED if is_end else FILL, stroke=INK)
            middle = x + width / 2
            sheet.text(middle, _HEAD + 23, what, _SMALL, fill=PAPER if is_end else INK, anchor="middle")
            sheet.text(middle, _HEAD + 39, address, _TINY, fill=PAPER if is_end else INK, anchor="middle")
            if who:
                _lines(sheet, middle, _HEAD + 50, who, width - 4, fill=MUTED, middle=True)
    usable = f"usable: {lesson.values['first']} to {lesson.values['last']}"
    sheet.line((_MARGIN + width, _HEAD + 80), (WIDTH - _MARGIN - width, _HEAD + 80), stroke=DARK, thickness=1.5)
    sheet.text(WIDTH / 2, _HEAD + 96, usable, _TEXT, anchor="middle")
    told = (
        f"{at['network']} is the network address, {at['gateway']} the gateway; up to {at['kept up to']} addresses are kept for "
        f"fixed stations; the pool runs from {at['pool from']} to {at['pool to']}; {at['broadcast']} is the broadcast address."
    )
    return sheet.drawing(title, f"{told} {usable.capitalize()}.")


# Ports, routes, return path -------------------------------------------------------------------------------------------


def _way(hops: Sequence[Hop], which: str) -> Drawing:
    source, target = hops[0].name, hops[-1].name
    title = f"A packet's way {which}: {source} to {target}"
    sheet = _sheet(title, 128)
    width = _ROOM / len(hops)
    box = width - 26
    for place, hop in enumerate(hops):
        x = _MARGIN + place * width
        with sheet.part("device", hop.name):
            sheet.rect(x, _HEAD + 8, box, 34, fill=FILL if hop.found else PAPER, stroke=INK, corner=3)
            name = fitted(hop.name, box - 6, _TEXT, most_lines=2).lines
            for number, line in enumerate(name):
                y = _HEAD + 29 + (number * 13 - (len(name) - 1) * 6)
                sheet.text(x + box / 2, y, line, _TEXT, is_bold=bool(hop.found), anchor="middle")
            if place + 1 < len(hops):
                _arrow(sheet, (x + box + 3, _HEAD + 25), (x + width - 3, _HEAD + 25))
            _lines(sheet, x, _HEAD + 46, hop.found, width - 8, fill=INK)
    told = " ".join(f"S{hop.name[1:]} finds: {hop.found}." for hop in hops if hop.found)
    return sheet.drawing(title, f"{source} sends to {target}. {told} {target} receives it.")


# Relay, snooping ------------------------------------------------------------------------------------------------------


def _exchange(lesson: Lesson) -> Drawing:
    values = lesson.values
    title = f"A lease for {values['client']}, through the relay agent of switch {values['switch']}"
    giaddr, server = f"with giaddr {values['giaddr']}", str(values["server_address"])
    trusted = f"to giaddr, in on trusted port {values['switch']}/{values['trusted']}"
    messages = (
        (0, 1, "DISCOVER to all in the VLAN", ""),
        (1, 2, f"DISCOVER to {server}", giaddr),
        (2, 1, f"OFFER {values['client_address']}", trusted),
        (1, 0, f"OFFER {values['client_address']}", ""),
        (0, 1, f"REQUEST {values['client_address']} to all", ""),
        (1, 2, f"REQUEST to {server}", giaddr),
        (2, 1, f"ACK {values['client_address']}", trusted),
        (1, 0, f"ACK {values['client_address']}, {values['lease_hours']} h", "the switch writes a binding row"),
    )
    row = 34.0
    sheet = _sheet(title, 44 + row * len(messages))
    columns = (80.0, 335.0, 590.0)
    heads = (values["client"], f"switch {values['switch']}, relay agent in VLAN {values['vlan']}", values["server"])
    bottom = _HEAD + 44 + row * len(messages)
    for x, head in zip(columns, heads, strict=True):
        lines = fitted(str(head), 190, _TEXT, most_lines=2, is_bold=True).lines
        for number, line in enumerate(lines):
            sheet.text(x, _HEAD + 10 + number * _LINE, line, _TEXT, fill=DARK, is_bold=True, anchor="middle")
        sheet.line((x, _HEAD + 30), (x, bottom), stroke=RULE)
    for place, (start, end, what, note) in enumerate(messages):
        y = _HEAD + 58 + place * row
        with sheet.part("message", f"{place + 1}"):
            _arrow(sheet, (columns[start], y), (columns[end], y))
            middle = (columns[start] + columns[end]) / 2
            sheet.text(middle, y - 5, f"{place + 1}. {what}", _SMALL, anchor="middle")
            if note:
                sheet.text(middle, y + 12, note, _SMALL, fill=MUTED, anchor="middle")
    told = (
        f"{number}. {heads[start]} to {heads[end]}: {what}{f' ({note})' if note else ''}."
        for number, (start, end, what, note) in enumerate(messages, 1)
    )
    return sheet.drawing(title, " ".join(told))


# Bindings, guard ------------------------------------------------------------------------------------------------------


def _bindings(lesson: Lesson) -> Drawing:
    title = f"Binding table of switch {lesson.vlan.switch}, and what source guard compares"
    rows = lesson.binding_lines
    sheet = _sheet(title, 34 + 22 * len(rows) + 40 + 30 * len(lesson.packets))
    columns = (_MARGIN, 90.0, 160.0, 330.0, 470.0)
    _row(sheet, _HEAD + 12, columns, ("Port", "VLAN", "MAC", "Address", "Type"), is_head=True)
    for place, row in enumerate(rows):
        y = _HEAD + 34 + place * 22
        with sheet.part("row", row.port):
            sheet.rect(_MARGIN - 4, y - 14, _ROOM + 8, 20, fill=FILL)
            _row(sheet, y, columns, (row.port, row.vlan, row.mac, row.address, row.kind))
    y = _HEAD + 34 + 22 * len(rows) + 18
    sheet.text(_MARGIN, y, f"What comes in on guarded port {lesson.client.at}:", _TEXT, fill=DARK, is_bold=True)
    for place, packet in enumerate(lesson.packets):
        y += 28 if place else 24
        fate = "passes: a row says the same" if packet.passes else "is dropped: no row says that"
        with sheet.part("packet", packet.what):
            sheet.rect(_MARGIN - 4, y - 15, _ROOM + 8, 22, stroke=INK, thickness=2 if not packet.passes else 1)
            _row(sheet, y, (_MARGIN, 160.0, 330.0, 470.0), (packet.what, packet.mac, packet.address, fate))
    table = "; ".join(f"{row.port}, VLAN {row.vlan}, {row.mac}, {row.address}, {row.kind}" for row in rows)
    told = " ".join(
        f"A packet with {each.what}, from {each.address} with {each.mac}, {'passes' if each.passes else 'is dropped'}."
        for each in lesson.packets
    )
    return sheet.drawing(title, f"Rows: {table}. On port {lesson.client.at}: {told}")


def _row(sheet: Sheet, y: float, columns: Sequence[float], cells: Sequence[str], *, is_head: bool = False) -> None:
    for x, cell in zip(columns, cells, strict=True):
        sheet.text(x, y, cell, _SMALL, fill=MUTED if is_head else INK, is_bold=is_head)
