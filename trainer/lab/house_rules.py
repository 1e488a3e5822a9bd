"""The rules of the Brief, which leave exactly one right answer unless one of them says otherwise.

Texts refer to a rule by its member, so that no text can name a rule that there is not, and its number is worked out when it
is printed: f"rule {HouseRule.ORDER}" is "rule Order", `numbered` gives "rules 1 to 4".
"""

from collections.abc import Callable, Sequence
from enum import Enum

from trainer.lab.scenario import GatewayPlace, LinkEnds, Order, RouteRule, Scenario, UnknownAddresses

__all__ = ["HouseRule", "numbered"]


def _block(_scenario: Scenario) -> str:
    return "All networks come from the block on sheet Given."


def _size(_scenario: Scenario) -> str:
    return (
        "A VLAN gets the smallest network that holds its addresses needed. The gateway is counted in them; network address "
        "and broadcast address are not."
    )


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


def _order(scenario: Scenario) -> str:
    return _ORDERS[scenario.rules.order]


_GATEWAYS = {
    GatewayPlace.FIRST_USABLE: "It has the first usable address of its network.",
    GatewayPlace.LAST_USABLE: "It has the last usable address of its network.",
    GatewayPlace.FREE: "Its address is yours to choose: any usable one that is in no pool and of no fixed station.",
}


def _gateway(scenario: Scenario) -> str:
    where = "on sheet Subnets" if scenario.repair is None else "in table VLAN interfaces"
    return (
        f"The gateway of a VLAN is the VLAN interface of its switch. {_GATEWAYS[scenario.rules.gateway]} "
        f"Gateway and Mask {where} are what is set on that interface."
    )


def _fixed(_scenario: Scenario) -> str:
    return "'no. 5' is the fifth usable address of the station's network, counted upward; the lowest usable address is no. 1."


_LINK_ENDS = {
    LinkEnds.FIRST_NAMED: "The switch named first has the lower address.",
    LinkEnds.FREE: "Which switch has the lower address is yours to choose.",
}


def _links(scenario: Scenario) -> str:
    return (
        f"A link port is a routed port, it carries no VLAN. Every link network is a /{scenario.link_length}"
        + (". " if scenario.link_length < 31 else "; both of its addresses are ends (RFC 3021). ")
        + _LINK_ENDS[scenario.rules.link_ends]
    )


def _ports(scenario: Scenario) -> str:
    text = (
        "A station's port is an access port in the station's VLAN. Ports that are not listed are off and are not asked."
    )
    if scenario.repair is not None:
        text += " A VLAN interface is up while a port that is on is in its VLAN."
    if scenario.rules.numbers_may_repeat:
        text += (
            " A VLAN ends at the routed port: one number on two switches is two VLANs, called 30 on A and 30 on B. Heard on "
            "ports, on sheet Subnets: the ports of the stations that hear what one of them sends to all."
        )
    return text


_NO_SUMMARIES = "Summary and default routes are not right here. "


def _routes(scenario: Scenario) -> str:
    asked = [switch.name for switch in scenario.switches if switch.asks_routes]
    on_each = "on each switch" if len(asked) == len(scenario.switches) else f"on switch {' and '.join(asked)}"
    text = (
        f"Every station must reach every other: {on_each} one route for every VLAN network of another switch; the next "
        "hop is the neighbour's address on the link. "
    )
    if len(asked) < len(scenario.switches):
        text += "The routes of the other switches are set already; write none for them. "
    if scenario.rules.route_rule is RouteRule.ONE_A_NETWORK:
        text += "Summary and default routes are not right for them. " if scenario.way_out else _NO_SUMMARIES
    elif scenario.rules.unknown_addresses is UnknownAddresses.MAY_CIRCLE:
        text += (
            "Summary and default routes are right too, if every packet to a VLAN network arrives; what becomes of one to "
            "an unused address does not count here. "
        )
    else:
        text += (
            "Summary and default routes are right too, if every packet to a VLAN network arrives and one to an unused "
            "address is dropped, not sent into a routing loop: two switches must not point defaults at each other. "
        )
    if scenario.way_out is not None:
        text += (
            "Every station must reach the network outside too: each of these switches has a default route, on switch "
            f"{scenario.way_out.at.switch} over the neighbour outside. Set already are the way out but for what its port is, "
            f"the neighbour's route back to the block and, on {scenario.way_out.at.switch}, a route to nowhere for the block, "
            "which takes what no longer prefix takes (RFC 4632 5.1). At the bench a device of the lab plays the neighbour, never "
            "the company network. "
        )
    return text + "Routes to link networks are not needed between stations and not counted; test from stations."


_OPTIONS = {
    "dns_server": "DNS server: the DHCP server, which answers for names too.",
}
"""What rule Pools says of an option, where pools tell it; by field of DhcpOptions."""


def _pools(scenario: Scenario) -> str:
    return (
        f"Every VLAN with DHCP stations has one pool: one unbroken range, from usable address no. "
        f"{scenario.rules.kept_for_fixed + 1} to the last usable address or, if that is the gateway, to the one before "
        "it. Router: the gateway. Lease: as on sheet Given."
        + "".join(f" {_OPTIONS[option]}" for option in scenario.rules.options_given)
    )


def _leases(_scenario: Scenario) -> str:
    return (
        "The DHCP stations start one after the other in the order of table Stations. The server hands out the lowest "
        "address of the pool that is free and that nobody uses."
    )


def _relays(_scenario: Scenario) -> str:
    return (
        "Every VLAN with DHCP stations has a relay agent on its own switch, unless the server stands in that VLAN. "
        "giaddr is the address of the interface on which the relay agent hears the client."
    )


def _snooping(_scenario: Scenario) -> str:
    return (
        "On for the VLANs marked yes under Snooping. A switch with a snooped VLAN lets server messages in only "
        "through trusted ports, routed ports included (a rule of this lab); a switch without one checks nothing, "
        "write none. Trust exactly the ports where messages from the DHCP server come in, also those "
        "that it sends to a relay agent."
    )


def _guard(scenario: Scenario) -> str:
    text = (
        "Source guard is on for the ports of stations whose network is marked yes under Source guard; not for the "
        "server's port, never for a link port. A frame passes if port, VLAN, MAC and address stand "
        "in a row; ARP is checked too."
    )
    if scenario.repair is not None:
        text += " A station that has no address yet asks for one without a row; what a relay agent sends needs one."
    return text


def _bindings(scenario: Scenario) -> str:
    if scenario.repair is not None:
        return (
            "One static row for each fixed station on a guarded port, no others. A switch adds a dynamic row for each station "
            "in a snooped VLAN that gets a lease, but none on a trusted port (a rule of this lab)."
        )
    return (
        "The rows of all switches together, when all stations have started: one dynamic row for each DHCP station "
        "in a snooped VLAN, one static row for each fixed station on a guarded port, no others. No row is learnt on "
        "a trusted port (a rule of this lab). Lease: the time "
        "granted, not the time left; static rows: no end."
    )


def _conflicts(_scenario: Scenario) -> str:
    return (
        "An address that two devices have counts as reached by nobody. Of two interfaces of a switch whose networks overlap "
        "the later is down: VLANs in the order of table Networks, then links."
    )


class HouseRule(Enum):
    """A rule of the Brief. They are printed in this order, and numbered by it."""

    BLOCK = "Block", _block
    SIZE = "Size", _size
    ORDER = "Order", _order
    GATEWAY = "Gateway", _gateway
    FIXED = "Fixed", _fixed
    LINKS = "Links", _links
    PORTS = "Ports", _ports
    ROUTES = "Routes", _routes
    POOLS = "Pools", _pools
    LEASES = "Leases", _leases
    RELAYS = "Relays", _relays
    SNOOPING = "Snooping", _snooping
    GUARD = "Guard", _guard
    BINDINGS = "Bindings", _bindings
    CONFLICTS = "Conflicts", _conflicts

    def __init__(self, title: str, words: Callable[[Scenario], str]) -> None:
        self.title = title
        self.number = len(self.__class__.__members__) + 1
        """From 1, as printed."""
        self._words = words

    def __str__(self) -> str:
        """Its title, by which texts call it."""
        return self.title

    def text(self, scenario: Scenario) -> str:
        """What it says in that lab."""
        return self._words(scenario)


def numbered(rules: Sequence[HouseRule]) -> str:
    """The rules, in the order in which they are printed, by their numbers.

    >>> numbered([HouseRule.ROUTES]), numbered([HouseRule.LINKS, HouseRule.ORDER]), numbered(list(HouseRule)[:4])
    ('rule 8', 'rules 3 and 6', 'rules 1 to 4')
    """
    numbers = sorted(rule.number for rule in rules)
    if len(numbers) == 1:
        return f"rule {numbers[0]}"
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"rules {numbers[0]} to {numbers[-1]}"
    return f"rules {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"
