"""The demo's class: eight ways to fill a workbook in, from flawless to nearly blank. Invented people, planted mistakes.

A way of working gets the right texts by cell and gives back what that trainee types. Open rows are called "Route 1", ...
"""

from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Address

from trainer.lab.form import Answers, CellRef, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, bindings, form_of, links, pools, protection, relays, routes, stations, subnets
from trainer.lab.rows import LinkRow, StationRow, SwitchRow, WrittenRow
from trainer.lab.scenario import Scenario
from trainer.network.addresses import DEFAULT_ROUTE
from trainer.sheets.placement import shown_answers

__all__ = ["FILLINGS", "Filling", "key_texts"]

Texts = dict[CellRef, str]


@dataclass(frozen=True, slots=True)
class Filling:
    """A way of working, and what it shows."""

    shows: str
    fill: Callable[[Scenario, Texts], Texts]


def key_texts(scenario: Scenario, answers: Answers | None = None) -> Texts:
    """The key as it is typed into a trainee's workbook, open rows in the first printed ones."""
    key = derive_key(scenario) if answers is None else answers
    return {cell: text for section in form_of(scenario) for cell, text in shown_answers(section, scenario, key).items()}


def _flawless(_scenario: Scenario, texts: Texts) -> Texts:
    return texts


def _other_notation(scenario: Scenario, texts: Texts) -> Texts:
    """Right throughout, written otherwise: colons, lower case, minutes, lists in another order, rows shuffled."""
    written: Texts = {}
    for cell, text in texts.items():
        section = next(each for each in FORM if any(question.id == cell.question for question in each.questions))
        typed = text
        if cell.question == bindings.BINDING_MAC.id:
            typed = text.lower().replace("-", ":")
        elif cell.question in (pools.POOL_LEASE.id, bindings.BINDING_LEASE.id) and text.endswith(" h"):
            typed = f"{int(text[:-2]) * 60} min"
        elif cell.question in (protection.GUARDED.id, protection.SNOOPED.id):
            typed = " ".join(reversed(text.split(", ")))
        elif cell.question == subnets.PREFIX_LENGTH_OF.id:
            typed = f"/{text}"
        row = cell.row
        if section.open is not None and isinstance(row, WrittenRow):
            row = section.open.named(len(section.rows(scenario)) + 1 - row.number)
        written[CellRef(cell.question, row)] = typed
    return written


def _summary_routes(scenario: Scenario, texts: Texts) -> Texts:
    """One default route on the switch without the server instead of a route a network: right by what it does."""
    home = scenario.server.at.switch
    other = next(switch.name for switch in scenario.switches if switch.name != home)
    rows = [cell.row for cell, text in texts.items() if cell.question == routes.ROUTE_SWITCH.id and text == other]
    for row in rows[1:]:
        for question in routes.ROUTES.questions:
            texts[CellRef(question.id, row)] = ""
    texts[CellRef(routes.DESTINATION.id, rows[0])] = str(DEFAULT_ROUTE.network_address)
    texts[CellRef(routes.ROUTE_MASK_OF.id, rows[0])] = f"/{DEFAULT_ROUTE.prefixlen}"
    return texts


def _one_bit_long(scenario: Scenario, texts: Texts) -> Texts:
    """One prefix length a bit too long, everything after it worked out consistently from there."""
    vlan = min(scenario.dhcp_vlans, key=lambda each: each.addresses_needed)
    row = subnets.row_of(vlan.id)
    longer = int(texts[CellRef(subnets.PREFIX_LENGTH_OF.id, row)]) + 1
    given = {CellRef(subnets.PREFIX_LENGTH_OF.id, row): longer}
    so_far = SoFar(scenario, given)
    values = {
        CellRef(question.id, each.key): so_far.value(question, each.key)
        for section in FORM
        for each in section.rows(scenario)
        for question in section.questions_in(scenario)
    }
    return key_texts(scenario, Answers(values=values, rows={}))


def _swaps_and_slips(scenario: Scenario, texts: Texts) -> Texts:
    """Slips of somebody in a hurry: a last usable that is the broadcast address, a router that is not the gateway, a
    next hop that is the switch's own, a relay to the gateway.
    """
    vlan = subnets.row_of(scenario.vlans[1].id)
    texts[CellRef(subnets.LAST_USABLE.id, vlan)] = texts[CellRef(subnets.BROADCAST_ADDRESS.id, vlan)]
    pool = subnets.row_of(scenario.dhcp_vlans[0].id)
    texts[CellRef(pools.POOL_ROUTER.id, pool)] = _plus(texts[CellRef(pools.POOL_ROUTER.id, pool)], 1)
    link = scenario.links[0]
    own = {link.first.switch: links.FIRST_ADDRESS.id, link.second.switch: links.SECOND_ADDRESS.id}
    first = routes.ROUTES.row("Route 1")
    switch = next(name for name in own if name == texts[CellRef(routes.ROUTE_SWITCH.id, first)])
    texts[CellRef(routes.NEXT_HOP.id, first)] = texts[CellRef(own[switch], LinkRow(link.name))]
    server_gateway = texts[CellRef(stations.STATION_GATEWAY.id, StationRow(scenario.server.name))]
    texts[CellRef(relays.RELAY_TARGET.id, relays.RELAYS.row("Relay 1"))] = server_gateway
    return texts


def _unprotected(scenario: Scenario, texts: Texts) -> Texts:
    """Routing right, protection not understood: every station port trusted, the uplink guarded, rows for no static host."""
    for switch in scenario.switches:
        row = SwitchRow(switch.name)
        texts[CellRef(protection.TRUSTED.id, row)] = texts[CellRef(protection.GUARDED.id, row)]
        links_here = [link.end_at(switch.name).port for link in scenario.links]
        texts[CellRef(protection.GUARDED.id, row)] = ", ".join(links_here)
    for cell, text in list(texts.items()):
        if cell.question == bindings.BINDING_TYPE_OF.id and text == "static":
            for question in bindings.BINDINGS.questions:
                texts[CellRef(question.id, cell.row)] = ""
    return texts


def _careless_writer(scenario: Scenario, texts: Texts) -> Texts:
    """Right ideas, written so that they cannot be read: two values in a cell, a mask with a hole, half a MAC."""
    first, second = (subnets.row_of(vlan.id) for vlan in scenario.vlans[:2])
    texts[CellRef(subnets.GATEWAY.id, first)] += " or " + texts[CellRef(subnets.LAST_USABLE.id, first)]
    texts[CellRef(subnets.MASK.id, second)] = "255.255.0.255"
    mac = CellRef(bindings.BINDING_MAC.id, bindings.BINDINGS.row("Binding 1"))
    port = CellRef(bindings.BINDING_PORT.id, bindings.BINDINGS.row("Binding 2"))
    texts[mac] = texts[mac][:8]
    texts[port] = texts[port].split("/")[1]
    texts[CellRef(pools.POOL_LEASE.id, subnets.row_of(scenario.dhcp_vlans[0].id))] = str(scenario.lease_hours)
    return texts


def _beginner(_scenario: Scenario, texts: Texts) -> Texts:
    """Got as far as the subnets and the ports."""
    return {cell: text for cell, text in texts.items() if cell.question.split(".")[0] in ("subnets", "ports")}


FILLINGS = (
    Filling("everything right", _flawless),
    Filling("everything right, in another notation and order", _other_notation),
    Filling("one default route instead of several routes", _summary_routes),
    Filling("one prefix length wrong, the rest follows from it", _one_bit_long),
    Filling("slips in a hurry", _swaps_and_slips),
    Filling("routing right, protection not understood", _unprotected),
    Filling("right ideas that cannot be read", _careless_writer),
    Filling("got as far as subnets and ports", _beginner),
)


def _plus(address: str, number: int) -> str:
    return str(IPv4Address(address) + number)
