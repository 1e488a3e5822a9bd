"""What is printed on the sheets Brief and Given: the rules that leave exactly one right answer, and what is given.

Whoever has only these two comes to the key, or to another answer that a rule calls right.
"""

from dataclasses import dataclass

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, GatewayPlace, LinkEnds, Order, RouteRule, Scenario, UnknownAddresses

__all__ = ["BriefPart", "GivenTable", "brief", "given_tables"]


@dataclass(frozen=True, slots=True)
class BriefPart:
    """A headed part of the Brief: lines, each with a label that may be empty."""

    title: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class GivenTable:
    """A table of sheet Given."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def brief(scenario: Scenario) -> tuple[BriefPart, ...]:
    """The parts of the Brief, in order."""
    return (
        BriefPart("What to do", (("", _task(scenario)),)),
        BriefPart("House rules - they leave exactly one right answer, unless a rule says otherwise", _rules(scenario)),
        BriefPart("How to write", _how_to_write()),
        BriefPart("Marks", (("", _marks(scenario)),)),
        BriefPart("Cautions for the bench", _CAUTIONS),
        BriefPart("At work it may be otherwise", _at_work(scenario)),
    )


def _at_work(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """Without the advice that this lab's own rule gives."""
    has_ranges = scenario.order is Order.RANGE_A_SWITCH
    return tuple((label, text) for label, text in _AT_WORK if not (has_ranges and label == "to 3"))


def _task(scenario: Scenario) -> str:
    time = f" Time: {scenario.minutes} minutes." if scenario.minutes else ""
    date = f" {scenario.date}" if scenario.date else ""
    given = [SECTIONS[share.section].title for share in scenario.sections if share.asked is Asked.GIVEN]
    printed = f" {' and '.join(given)}: filled in for you." if given else ""
    return (
        f"Plan and protect the network on sheet Given: {len(scenario.switches)} switches that route, joined by routed "
        f"links. Fill in the framed cells of the sheets that follow.{printed}{time}{date}"
    )


def _rules(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    rules = (
        ("Block", "All networks come from the block on sheet Given."),
        (
            "Size",
            "A VLAN gets the smallest network that holds its addresses needed. The gateway is counted in them; "
            "network address and broadcast address are not.",
        ),
        ("Order", _ORDERS[scenario.order]),
        ("Gateway", _gateway(scenario)),
        (
            "Fixed",
            "'no. 5' is the fifth usable address of the station's network, counted upward; the lowest usable address "
            "is no. 1.",
        ),
        (
            "Links",
            f"A link port is a routed port, it carries no VLAN. Every link network is a /{scenario.link_length}"
            + (". " if scenario.link_length < 31 else "; both of its addresses are ends (RFC 3021). ")
            + _LINK_ENDS[scenario.link_ends],
        ),
        (
            "Ports",
            "A station's port is an access port in the station's VLAN. Ports that are not listed are off and are not "
            "asked.",
        ),
        ("Routes", _routes(scenario)),
        (
            "Pools",
            f"Every VLAN with DHCP stations has one pool: one unbroken range, from usable address no. "
            f"{scenario.kept_for_fixed + 1} to the last usable address or, if that is the gateway, to the one before "
            "it. Router: the gateway. Lease: as on sheet Given.",
        ),
        (
            "Leases",
            "The DHCP stations start one after the other in the order of table Stations. The server hands out the "
            "lowest address of the pool that is free and that nobody uses.",
        ),
        (
            "Relays",
            "Every VLAN with DHCP stations has a relay agent on its own switch, unless the server stands in that VLAN. "
            "giaddr is the address of the interface on which the relay agent hears the client.",
        ),
        (
            "Snooping",
            "On for the VLANs marked yes under Snooping. A switch with a snooped VLAN lets server messages in only "
            "through trusted ports, routed ports included (a rule of this lab); a switch without one checks nothing, "
            "write none. Trust exactly the ports through which messages of the DHCP server, those to a relay agent "
            "too, come in.",
        ),
        (
            "Guard",
            "Source guard is on for the ports of stations whose network is marked yes under Source guard; not for the "
            "server's port, never for a link port. A frame passes if port, VLAN, MAC and address stand "
            "in a row; ARP is checked too.",
        ),
        (
            "Bindings",
            "The rows of all switches together, when all stations have started: one dynamic row for each DHCP station "
            "in a snooped VLAN, one static row for each fixed station on a guarded port, no others. Lease: the time "
            "granted, not the time left; static rows: infinite.",
        ),
        (
            "Conflicts",
            "An address that two devices have counts as reached by nobody. Of two interfaces of a switch whose networks "
            "overlap the later is down: VLANs in the order of table Networks, then links.",
        ),
    )
    return tuple((f"{number:>2}  {title}", text) for number, (title, text) in enumerate(rules, 1))


_LINK_ENDS = {
    LinkEnds.FIRST_NAMED: "The switch named first has the lower address.",
    LinkEnds.FREE: "Which switch has the lower address is yours to choose.",
}
_LINKS_LAST = " The link networks come last, in the order of table Links."
_LINKS_BEHIND_RANGES = " The link networks come behind the last range, in the order of table Links."
_ORDERS = {
    Order.LARGEST_FIRST: "Shortest prefix length first, at the start of the block; equal prefix lengths in the order of "
    "table Networks, whatever their addresses needed; each network starts at the next multiple of its own size."
    + _LINKS_LAST,
    Order.AS_LISTED: "In the order of table Networks, from the start of the block; each network starts at the next "
    "multiple of its own size behind the one before." + _LINKS_LAST,
    Order.RANGE_A_SWITCH: "The block is cut into one range for each switch: the smallest network that holds all its "
    "VLANs. The range with the shortest prefix length first, equal ones in the order of the switches; inside a range "
    "shortest prefix length first, equal ones in the order of table Networks. Each range and each network starts at "
    "the next multiple of its own size." + _LINKS_BEHIND_RANGES,
    Order.FREE: "Your choice: every plan is right in which each network starts at a multiple of its own size, lies in "
    "the block and overlaps no other. What follows is marked by your own plan.",
}


def _gateway(scenario: Scenario) -> str:
    places = {
        GatewayPlace.FIRST_USABLE: "It has the first usable address of its network.",
        GatewayPlace.LAST_USABLE: "It has the last usable address of its network.",
        GatewayPlace.FREE: "Its address is yours to choose: any usable one that is in no pool and of no fixed station.",
    }
    return (
        f"The gateway of a VLAN is the VLAN interface of its switch. {places[scenario.gateway]} "
        "Gateway and Mask on sheet Subnets are what is set on that interface."
    )


def _routes(scenario: Scenario) -> str:
    asked = [switch.name for switch in scenario.switches if switch.asks_routes]
    on_each = "on each switch" if len(asked) == len(scenario.switches) else f"on switch {' and '.join(asked)}"
    text = (
        f"Every station must reach every other: {on_each} one route for every VLAN network of another switch; the next "
        "hop is the neighbour's address on the link. "
    )
    if len(asked) < len(scenario.switches):
        text += "The routes of the other switches are set already; write none for them. "
    if scenario.route_rule is RouteRule.ONE_A_NETWORK:
        text += "Summary and default routes are not right here. "
    elif scenario.unknown_addresses is UnknownAddresses.MAY_CIRCLE:
        text += (
            "Summary and default routes are right too, if every packet to a VLAN network arrives; what becomes of one to "
            "an unused address does not count here. "
        )
    else:
        text += (
            "Summary and default routes are right too, if every packet to a VLAN network arrives and one to an unused "
            "address is dropped, not sent in circles: two switches must not point defaults at each other. "
        )
    return text + "Routes to link networks are not needed between stations and not counted; test from stations."


def _how_to_write() -> tuple[tuple[str, str], ...]:
    return (
        (
            "Cells",
            "One value in a cell, two values count as none; only sheet Protection takes lists, in any order, port "
            "numbers without the letter: 3, 5, 9, or none. An empty cell counts as not answered. Rows of Routes, "
            "Relays and Bindings may stand in any order; spare rows stay empty.",
        ),
        (
            "Mask",
            "255.255.240.0. /20 is right too, but not on sheet Subnets, where both are asked. Prefix length: 20 or /20.",
        ),
        ("Routes", "Destination: the network address, without the length. Default route: 0.0.0.0 and /0."),
        (
            "Others",
            "Switch: B. Port: B/7. MAC: any usual way. Lease with its unit: 6 h, 360 min, 21600 s; without end: infinite.",
        ),
    )


def _marks(scenario: Scenario) -> str:
    shares = ", ".join(
        f"{SECTIONS[share.section].title} {share.share}" for share in scenario.sections if share.asked is Asked.YES
    )
    once = (
        "An error is charged once; what follows from it correctly counts, unless it leads outside the block; half if it "
        "got easier. "
    )
    return (
        f"Shares of the total: {shares}. Inside a sheet every cell counts the same. {once if scenario.follow_through else ''}"
        "In lists and open tables a wrong extra cancels a right one; no sheet goes below zero."
    )


_CAUTIONS = (
    (
        "Lab",
        "Isolated lab only: no cable to the house network. No DHCP server in the lab but the planned one, and none of "
        "its messages may leave the lab. Use only the addresses on your sheet.",
    ),
    (
        "Order",
        "Trust and static rows first, then snooping; let every station fetch its lease anew and read the table; then "
        "source guard, one port at a time. They can lock you out: keep a console.",
    ),
    ("Restart", "Save the binding table, a restart loses it (RFC 7513 9.2)."),
    ("Mains", "Mains and racks: local rules, licensed persons. This sheet gives no electrical instruction."),
)

_AT_WORK = (
    ("to 2", "Leave room to grow: 20 to 50 per cent (common practice, no source)."),
    ("to 3", "Give each switch a range of its own, so that one summary route reaches it (common practice, no source)."),
    ("to 8", "You want routes to the link networks too, to test and manage the switches (common practice, no source)."),
    (
        "to 10",
        "A real server gives a client its present or former address, or the one it asks for, before a new one "
        "(RFC 2131 4.3.1).",
    ),
    (
        "to 11",
        "Option 82 is off here; a relay agent drops a request that carries it with giaddr 0 from an untrusted circuit "
        "(RFC 3046 2.1).",
    ),
    (
        "to 12",
        "The standard does not filter what a server sends to a relay agent inside the perimeter (RFC 7513 4.3.3); on "
        "much equipment a routed port is not checked (from memory, not verified): read its manual.",
    ),
    ("to 14", "Each switch keeps its own table and shows the time left; no standard says the word infinite."),
    ("to 15", "Of two devices with one address whichever answers first may be reached (RFC 5227 1)."),
)


def given_tables(scenario: Scenario) -> tuple[GivenTable, ...]:
    """The tables of sheet Given: values, networks, stations, links."""
    places = {switch.name: switch.place for switch in scenario.switches}
    return (
        GivenTable(
            "Values",
            ("Item", "Value"),
            (
                ("Block of this lab", str(scenario.block)),
                ("Order in the block", scenario.order.value),
                ("Gateway", scenario.gateway.value),
                ("Length of link networks", f"/{scenario.link_length}"),
                ("First pool address", f"usable address no. {scenario.kept_for_fixed + 1}"),
                ("Lease of every pool", f"{scenario.lease_hours} h"),
            ),
        ),
        GivenTable(
            "Networks",
            ("VLAN", "Network", "Switch", "Addresses needed", "Snooping", "Source guard"),
            tuple(
                (
                    str(vlan.number),
                    vlan.name,
                    f"{vlan.switch} ({places[vlan.switch]})",
                    str(vlan.addresses_needed),
                    _yes(vlan.is_snooped),
                    _yes(vlan.is_guarded),
                )
                for vlan in scenario.vlans
            ),
        ),
        GivenTable(
            "Stations",
            ("Station", "VLAN", "Port", "MAC", "Address"),
            tuple(
                (
                    station.name,
                    str(station.vlan),
                    str(station.at),
                    station.mac,
                    "DHCP" if station.fixed_number is None else f"fixed, no. {station.fixed_number}",
                )
                for station in scenario.stations
            ),
        ),
        GivenTable(
            "Links",
            ("Link", "First switch", "Port", "Second switch", "Port there"),
            tuple(
                (
                    link.name,
                    f"{link.first.switch} ({places[link.first.switch]})",
                    str(link.first),
                    f"{link.second.switch} ({places[link.second.switch]})",
                    str(link.second),
                )
                for link in scenario.links
            ),
        ),
    )


def _yes(value: bool) -> str:
    return "yes" if value else "no"
