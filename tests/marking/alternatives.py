"""Families of right answers that differ from the key: other notations, and routes that do the same in another way."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from ipaddress import IPv4Network

from trainer.lab.form import CellRef, RowKey
from trainer.lab.kinds import tidy
from trainer.lab.questions import QUESTIONS, routes
from trainer.lab.scenario import Scenario

Texts = dict[CellRef, str]
Route = tuple[str, str, str, str]
"""Switch, destination, mask, next hop, as typed."""


@dataclass(frozen=True, slots=True)
class Family:
    """A way to write a right paper."""

    name: str
    write: Callable[[Scenario, Texts], Texts]


def _columns(name: str, columns: str, other: Callable[[str], str]) -> Family:
    """Every cell of these columns rewritten."""
    wanted = columns.split()

    def write(_lab: Scenario, texts: Texts) -> Texts:
        return {cell: other(text) if text and cell.question in wanted else text for cell, text in texts.items()}

    return Family(name, write)


_MASKS = "links.mask stations.mask pools.mask"
_ADDRESSES = " ".join(each for each, question in QUESTIONS.items() if question.kind.name == "an address")
_LISTS = "protection.trusted protection.guarded"


def _length(text: str) -> int:
    return IPv4Network(f"0.0.0.0/{text.lstrip('/')}").prefixlen


def _hours(text: str) -> int:
    return int(text.split(maxsplit=1)[0]) if text.endswith(" h") else 0


def _lease(form: str, factor: int) -> Callable[[str], str]:
    return lambda text: form.format(_hours(text) * factor) if _hours(text) else text


def _numbers(text: str) -> list[str]:
    return re.findall(r"\d+", text)


NOTATION = (
    _columns("masks as /26", _MASKS, lambda text: f"/{_length(text)}"),
    _columns("masks as 26", _MASKS, lambda text: f"{_length(text)}"),
    _columns("masks of routes dotted", "routes.mask", lambda text: str(IPv4Network(f"0.0.0.0/{text[1:]}").netmask)),
    _columns("masks of routes as 26", "routes.mask", lambda text: text[1:]),
    _columns("lengths as /26", "subnets.prefix", lambda text: f"/{text}"),
    _columns("lengths dotted", "subnets.prefix", lambda text: str(IPv4Network(f"0.0.0.0/{text}").netmask)),
    _columns("MAC with colons", "bindings.mac", lambda text: text.replace("-", ":")),
    _columns("MAC in small letters", "bindings.mac", str.lower),
    _columns("MAC without anything", "bindings.mac", lambda text: text.replace("-", "")),
    _columns("MAC in groups of four", "bindings.mac", lambda text: ".".join(re.findall("....", text.replace("-", "")))),
    _columns("leases in minutes", "pools.lease bindings.lease", _lease("{} min", 60)),
    _columns("leases in seconds", "pools.lease bindings.lease", _lease("{} s", 3600)),
    _columns("leases in seconds with a comma", "pools.lease bindings.lease", _lease("{:,} s", 3600)),
    _columns("leases in seconds without a unit", "pools.lease bindings.lease", _lease("{}", 3600)),
    _columns("leases in hours in full", "pools.lease bindings.lease", _lease("{} hours", 1)),
    _columns("permanent rows", "bindings.lease", lambda text: text.replace("infinite", "permanent")),
    _columns("types with a remark", "bindings.type", lambda text: f"{text} (as in the plan)"),
    _columns("types by how they come", "bindings.type", lambda text: "DHCP" if text == "dynamic" else "manual"),
    _columns(
        "VLAN before the number", "ports.vlan bindings.vlan relays.vlan", lambda text: re.sub(r"^(?=\d)", "VLAN ", text)
    ),
    _columns("routed (link)", "ports.vlan", lambda text: text.replace("routed", "routed (link)")),
    _columns("routed port", "ports.vlan", lambda text: text.replace("routed", "Routed port")),
    _columns("layer 3", "ports.vlan", lambda text: text.replace("routed", "L3")),
    _columns("lists backwards", _LISTS, lambda text: ", ".join(reversed(text.split(", ")))),
    _columns("lists with blanks", _LISTS, lambda text: text.replace(",", "")),
    _columns("lists with semicolons", _LISTS, lambda text: text.replace(",", ";")),
    _columns("lists with letters", _LISTS, lambda text: ", ".join(f"A{n}" for n in _numbers(text)) or text),
    _columns(
        "lists with letters and strokes", _LISTS, lambda text: ", ".join(f"A/{n}" for n in _numbers(text)) or text
    ),
    _columns("no ports", _LISTS, lambda text: text.replace("none", "no ports")),
    _columns("ports without a stroke", "bindings.port", lambda text: text.replace("/", "")),
    _columns("port before the port", "bindings.port", lambda text: f"port {text}"),
    _columns("SW A", "routes.switch", lambda text: f"SW {text}"),
    _columns("switch a", "routes.switch", lambda text: f"switch {text.lower()}"),
    _columns("A (place)", "routes.switch", lambda text: f"{text} (hall)"),
    _columns("addresses with a length", _ADDRESSES, lambda text: f"{text}/32"),
    _columns("addresses with a remark", _ADDRESSES, lambda text: f"{text} (see above)"),
    _columns("addresses with blanks around", _ADDRESSES, lambda text: f"\u00a0 {text} "),
    _columns(
        "addresses with wide digits", _ADDRESSES, lambda text: text.translate({48 + n: 0xFF10 + n for n in range(10)})
    ),
    _columns("addresses with blanks inside", _ADDRESSES, lambda text: text.replace(".", ". ")),
)


# Routes ---------------------------------------------------------------------------------------------------------------


def written(texts: Mapping[CellRef, str]) -> list[Route]:
    rows = dict.fromkeys(cell.row for cell in texts if cell.question.startswith("routes."))
    found = (tuple(texts.get(CellRef(each.id, row), "") for each in routes.ROUTES.questions) for row in rows)
    return [(switch, destination, mask, hop) for switch, destination, mask, hop in found if switch]


def with_routes(texts: Texts, rows: list[Route]) -> Texts:
    found = {cell: text for cell, text in texts.items() if not cell.question.startswith("routes.")}
    for number, row in enumerate(rows, 1):
        for question, text in zip(routes.ROUTES.questions, row, strict=True):
            if tidy(text):
                found[CellRef(question.id, RowKey(f"Route {number}"))] = text
    return found


def _over(rows: list[Route], switch: str) -> str:
    """The next hop that most routes of a switch have."""
    hops = [row[3] for row in rows if row[0] == switch]
    return max(hops, key=hops.count)


DEFAULTS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "a default": (("0.0.0.0", "/0"),),
    "a default, dotted": (("0.0.0.0", "0.0.0.0"),),
    "a default, with its length": (("0.0.0.0/0", "0"),),
    "the word default": (("default", ""),),
    "the word any": (("any", ""),),
    "two halves of everything": (("0.0.0.0", "/1"), ("128.0.0.0", "/1")),
    "the private ranges": (("10.0.0.0", "/8"), ("172.16.0.0", "/12"), ("192.168.0.0", "/16")),
}


def of_switch(lab: Scenario, place: int) -> Iterator[Family]:
    """Routes of one of the switches that are asked for theirs, written otherwise. place: which of them, from 0."""
    switch = [each.name for each in lab.switches if each.asks_routes][place]
    for name, wide in (
        *DEFAULTS.items(),
        ("the whole block", ((str(lab.block.network_address), f"/{lab.block.prefixlen}"),)),
    ):
        yield Family(f"{switch}: {name} instead", _instead(switch, wide))
        yield Family(f"{switch}: {name} beside", _beside(switch, wide))
    yield Family(f"{switch}: every network in halves", _halves(switch, keep=False))
    yield Family(f"{switch}: halves beside every network", _halves(switch, keep=True))
    yield Family(
        f"{switch}: every row twice", lambda _lab, texts: with_routes(texts, [*written(texts), *_of(texts, switch)])
    )
    yield Family(f"{switch}: a route to where nothing is", _beside(switch, (("198.51.100.0", "/24"),)))
    yield Family(
        f"{switch}: its rows at the end",
        lambda _lab, texts: with_routes(
            texts, [*(row for row in written(texts) if row[0] != switch), *reversed(_of(texts, switch))]
        ),
    )


def _of(texts: Texts, switch: str) -> list[Route]:
    return [row for row in written(texts) if row[0] == switch]


def _instead(switch: str, wide: tuple[tuple[str, str], ...]) -> Callable[[Scenario, Texts], Texts]:
    def write(_lab: Scenario, texts: Texts) -> Texts:
        rows = written(texts)
        over = _over(rows, switch)
        kept = [row for row in rows if (row[0], row[3]) != (switch, over)]
        return with_routes(texts, [*kept, *((switch, start, mask, over) for start, mask in wide)])

    return write


def _beside(switch: str, wide: tuple[tuple[str, str], ...]) -> Callable[[Scenario, Texts], Texts]:
    def write(_lab: Scenario, texts: Texts) -> Texts:
        rows = written(texts)
        return with_routes(texts, [*rows, *((switch, start, mask, _over(rows, switch)) for start, mask in wide)])

    return write


def _halves(switch: str, *, keep: bool) -> Callable[[Scenario, Texts], Texts]:
    def write(_lab: Scenario, texts: Texts) -> Texts:
        rows = written(texts)
        halves = [
            (switch, str(half.network_address), f"/{half.prefixlen}", row[3])
            for row in _of(texts, switch)
            for half in IPv4Network(f"{row[1]}{row[2]}").subnets()
        ]
        return with_routes(texts, [*(row for row in rows if keep or row[0] != switch), *halves])

    return write
