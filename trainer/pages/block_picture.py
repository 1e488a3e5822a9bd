"""Picture of a block cut up into its networks: a line each in the order of addresses, drawn where it lies, as long as it is."""

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.form import SoFar
from trainer.lab.questions import links, subnets
from trainer.lab.rows import LinkRow
from trainer.lab.scenario import Scenario
from trainer.pages.lettering import clean, fitted
from trainer.pages.svg import DARK, FILL, INK, MUTED, RULE, Drawing, Sheet

__all__ = ["draw_block"]

_WIDTH, _MARGIN = 620.0, 14.0
_TEXT, _ROW, _BAR = 10.5, 22.0, 11.0
_DROP = 3.8
_HEAD = 40.0
_LABELS = 268.0
"""Room for the words on the left of the bars."""
_LEAST = 2.0
"""A network is drawn so wide at least that it is seen."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A network, or a stretch of the block in which there is none."""

    first: IPv4Address
    size: int
    name: str
    """Empty where nothing lies."""
    length: int | None

    @property
    def network(self) -> IPv4Network | None:
        """None where nothing lies."""
        return None if self.length is None else IPv4Network((self.first, self.length))


def draw_block(scenario: Scenario, spoken_of: IPv4Network | None = None) -> Drawing:
    """The block of a lab as its key cuts it up: every VLAN network and link network, and what stays free.

    spoken_of: the network that is brought out among the others; None where all are alike.
    """
    pieces = tuple(_pieces(scenario))
    title = f"How the block {scenario.block} is cut up"
    sheet = Sheet(_WIDTH, _HEAD + len(pieces) * _ROW + _MARGIN)
    sheet.text(_MARGIN, _MARGIN + 12, title, 12, fill=DARK, is_bold=True)
    sheet.line((_MARGIN, _HEAD - 8), (_WIDTH - _MARGIN, _HEAD - 8), stroke=RULE)
    left, room = _MARGIN + _LABELS, _WIDTH - 2 * _MARGIN - _LABELS
    scale = room / scenario.block.num_addresses
    for place, piece in enumerate(pieces):
        middle = _HEAD + place * _ROW + _ROW / 2
        x = left + (int(piece.first) - int(scenario.block.network_address)) * scale
        with sheet.part("network" if piece.name else "free", piece.name or str(piece.first)):
            is_ours = spoken_of is not None and piece.network == spoken_of
            (line,) = fitted(clean(_label(piece)), _LABELS - 8, _TEXT, most_lines=1, is_bold=is_ours).lines
            sheet.text(_MARGIN, middle + _DROP, line, _TEXT, fill=INK if piece.name else MUTED, is_bold=is_ours)
            sheet.line((left, middle + _BAR / 2 + 2), (left + room, middle + _BAR / 2 + 2), stroke=RULE, thickness=0.5)
            width = max(piece.size * scale, _LEAST)
            named = DARK if spoken_of is None or is_ours else MUTED
            fill = named if piece.name else FILL
            sheet.rect(
                min(x, left + room - width), middle - _BAR / 2, width, _BAR, fill=fill, stroke=INK, thickness=0.75
            )
    return sheet.drawing(title, " ".join(map(_told, pieces)))


def _pieces(scenario: Scenario) -> Iterator[_Piece]:
    """In the order of addresses, with what is free between and behind them."""
    key = SoFar(scenario)
    named: list[tuple[IPv4Network, str]] = [
        (subnets.network_of(key, vlan.id), f"VLAN {vlan.id}") for vlan in scenario.vlans
    ]
    named += [(links.network_of(key, LinkRow(link.name)), f"link {link.name}") for link in scenario.links]
    free, end = int(scenario.block.network_address), int(scenario.block.broadcast_address) + 1
    for network, name in sorted(named):
        first = int(network.network_address)
        if first > free:
            yield _Piece(IPv4Address(free), first - free, "", None)
        yield _Piece(network.network_address, network.num_addresses, name, network.prefixlen)
        free = first + network.num_addresses
    if free < end:
        yield _Piece(IPv4Address(free), end - free, "", None)


def _label(piece: _Piece) -> str:
    if piece.length is None:
        return f"{piece.first}  free, {piece.size} addresses"
    return f"{piece.first}/{piece.length}  {piece.name}, {piece.size} addresses"


def _told(piece: _Piece) -> str:
    last = IPv4Address(int(piece.first) + piece.size - 1)
    if piece.length is None:
        return f"From {piece.first} to {last} nothing lies."
    return (
        f"{piece.name[0].upper()}{piece.name[1:]}: {piece.first}/{piece.length}, {piece.size} addresses, up to {last}."
    )
