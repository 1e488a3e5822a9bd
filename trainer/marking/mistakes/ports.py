"""Mistakes in VLAN numbers, and on sheet Ports."""

from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import Routed
from trainer.lab.questions import bindings, ports, subnets
from trainer.lab.scenario import Vlan
from trainer.marking.mistakes.mistake import Charged, Claim, Mistake, WrongCell
from trainer.marking.mistakes.question_groups import VLAN_QUESTIONS
from trainer.network.devices import PortRef

__all__ = ["PORT_MISTAKES"]

_PORTS = frozenset({ports.PORT_VLAN.id})
_HEARD = frozenset({subnets.HEARD_ON.id})


# Numbers where a number is right --------------------------------------------------------------------------------------


def _number(cell: WrongCell) -> int | None:
    """The VLAN number in the cell; None for the word that stands for no VLAN, and on link ports."""
    if isinstance(cell.value, Routed) or isinstance(cell.expected, Routed):
        return None
    return int(cell.value)


def _is_reserved(cell: WrongCell) -> bool:
    return _number(cell) in (0, 4095)


def _is_out_of_range(cell: WrongCell) -> bool:
    number = _number(cell)
    return number is not None and number > 4095


def _is_default(cell: WrongCell) -> bool:
    return _number(cell) == 1


def _is_third_octet(cell: WrongCell) -> bool:
    if cell.network is None or _number(cell) is None:
        return False
    return _number(cell) == int(cell.network.network_address) >> 8 & 255


def _is_addresses_needed(cell: WrongCell) -> bool:
    return cell.vlan is not None and _number(cell) == cell.vlan.addresses_needed


def _is_port_number(cell: WrongCell) -> bool:
    return cell.station is not None and str(_number(cell)) == cell.station.at.port


def _meant(cell: WrongCell) -> tuple[Vlan, ...]:
    """The VLANs of the lab that the number belongs to."""
    number = _number(cell)
    return () if number is None else cell.scenario.vlans_numbered(number)


def _is_of_another_switch(cell: WrongCell) -> bool:
    meant, vlan = _meant(cell), cell.vlan
    return bool(meant) and vlan is not None and all(each.switch != vlan.switch for each in meant)


def _is_of_another_row(cell: WrongCell) -> bool:
    return bool(_meant(cell))


def _is_in_no_vlan_of_lab(cell: WrongCell) -> bool:
    return _number(cell) is not None and not _meant(cell)


def _is_digit_slip(cell: WrongCell) -> bool:
    if not _is_in_no_vlan_of_lab(cell):
        return False
    one, other = str(cell.value), str(cell.expected)
    changed = sum(a != b for a, b in zip(one, other, strict=False))
    return len(one) == len(other) and (changed == 1 or sorted(one) == sorted(other))


# Ports that carry a VLAN, and ports that carry none -------------------------------------------------------------------


def _is_vlan_on_link(cell: WrongCell) -> bool:
    return isinstance(cell.expected, Routed)


def _is_default_on_link(cell: WrongCell) -> bool:
    return _is_vlan_on_link(cell) and cell.holds(1)


def _is_lab_vlan_on_link(cell: WrongCell) -> bool:
    return _is_vlan_on_link(cell) and bool(cell.scenario.vlans_numbered(cell.value))


def _is_station_without_vlan(cell: WrongCell) -> bool:
    return isinstance(cell.value, Routed)


def _is_about_server(cell: WrongCell) -> bool:
    return cell.station is not None and cell.station.is_server


def _is_server_without_vlan(cell: WrongCell) -> bool:
    return _is_about_server(cell) and _is_station_without_vlan(cell)


def _is_server_in_client_vlan(cell: WrongCell) -> bool:
    return _is_about_server(cell) and _is_of_another_row(cell)


def _is_station_in_server_vlan(cell: WrongCell) -> bool:
    return _is_of_another_row(cell) and cell.holds(cell.scenario.server.vlan.number)


# Ports that hear a broadcast -------------------------------------------------------------------------------------------


def _added(cell: WrongCell) -> set[PortRef]:
    """Ports of the VLAN's switch that do not hear it."""
    return {PortRef(cell.vlan.switch, port) for port in cell.value - cell.expected} if cell.vlan else set()


def _goes_over_links(cell: WrongCell) -> bool:
    return any(cell.plan.is_link_port(port) for port in _added(cell))


def _holds_ports_of_namesake(cell: WrongCell) -> bool:
    """Ports of a VLAN with the same number on another switch."""
    vlan, scenario = cell.vlan, cell.scenario
    namesakes = set() if vlan is None else {each.id for each in scenario.vlans_numbered(vlan.number) if each != vlan}
    theirs = {station.at.port for station in scenario.stations if station.vlan in namesakes}
    here = {station.at.port for station in scenario.stations if vlan is not None and station.at.switch == vlan.switch}
    return not (cell.value - cell.expected).isdisjoint(theirs - here)


def _holds_ports_of_other_vlan(cell: WrongCell) -> bool:
    return any(cell.plan.station_at(port) is not None for port in _added(cell))


def _leaves_out_ports(cell: WrongCell) -> bool:
    return bool(cell.expected - cell.value)


def _holds_more_ports(cell: WrongCell) -> bool:
    return bool(cell.value - cell.expected)


PORT_MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        id="broadcast-over-routed-port",
        questions=_HEARD,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=_goes_over_links,
        explanation="A port that leads to another switch is in your list. It is routed, and a VLAN ends there.",
        consequence="Whoever waits for a broadcast on the next switch, such as a server, hears nothing of it.",
        claim=Claim.NONE,
        hint="What does a routed port do with a frame that is meant for all?",
        source="RFC 1812 section 5.3.5; RFC 2644",
    ),
    Mistake(
        id="broadcast-to-namesake",
        questions=_HEARD,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=_holds_ports_of_namesake,
        explanation="You listed ports of the VLAN that has this number on another switch. It is a VLAN of its own.",
        consequence="What is sent to all in one of them is never heard in the other.",
        claim=Claim.NONE,
        hint="Which ports does the link between these switches join, and what does it carry?",
        source=f"rule {HouseRule.PORTS} of this lab; common practice, no source",
    ),
    Mistake(
        id="broadcast-to-other-vlan",
        questions=_HEARD,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=_holds_ports_of_other_vlan,
        explanation="You listed a port of a station in another VLAN of this switch.",
        consequence="Stations of two VLANs hear nothing of each other's broadcasts, although they share a switch.",
        claim=Claim.NONE,
        hint="Which stations does table Stations name for this VLAN?",
        source="common practice, no source",
    ),
    Mistake(
        id="broadcast-misses-stations",
        questions=_HEARD,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=_leaves_out_ports,
        explanation="A station of this VLAN is plugged into a port that you did not list.",
        consequence="All stations of a VLAN on a switch hear a broadcast, those with fixed addresses too.",
        claim=Claim.NONE,
        hint="How many stations has this VLAN in table Stations?",
        source="common practice, no source",
    ),
    Mistake(
        id="broadcast-to-port-of-nobody",
        questions=_HEARD,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=_holds_more_ports,
        explanation="You listed a port that no station is plugged into.",
        consequence="Nobody hears anything there, and a port that is not in use belongs to no VLAN of the plan.",
        claim=Claim.NONE,
        hint="To which ports does table Stations plug somebody?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-id-reserved",
        questions=VLAN_QUESTIONS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=_is_reserved,
        explanation="{given} is one of the two VLAN numbers that are reserved. No VLAN of your own can have it.",
        consequence="The switch refuses the number.",
        claim=Claim.NONE,
        hint="Of all the numbers that twelve bits hold, which two are reserved?",
        source="RFC 4363 VlanId; the reserved values: common practice, no source",
    ),
    Mistake(
        id="vlan-id-out-of-range",
        questions=VLAN_QUESTIONS,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=_is_out_of_range,
        explanation="{given} does not fit into a VLAN number, which has twelve bits.",
        consequence="The switch refuses the number.",
        claim=Claim.NONE,
        hint="How far can twelve bits count?",
        source="RFC 4363 VlanId",
    ),
    Mistake(
        id="vlan-id-is-port-number",
        questions=_PORTS | {bindings.BINDING_VLAN.id},
        priority=12,
        charged=Charged.EACH_TIME,
        fits=_is_port_number,
        explanation="{given} is the number of the port. Ports and VLANs are numbered apart from each other.",
        consequence="What is set up here belongs to another VLAN than the station's, so the station is cut off.",
        claim=Claim.NO_ANSWER,
        hint="Which VLAN stands beside the name of this station in table Stations?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-id-is-addresses-needed",
        questions=VLAN_QUESTIONS,
        priority=12,
        charged=Charged.ONCE,
        fits=_is_addresses_needed,
        explanation=(
            "{given} is how many addresses this VLAN needs. Its number stands in another column of table Networks."
        ),
        consequence="What is set up here belongs to another VLAN, and the stations meant here are left out.",
        claim=Claim.NO_ANSWER,
        hint="Under which heading did you find your number?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-id-default-used",
        questions=VLAN_QUESTIONS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=_is_default,
        explanation=(
            "{given} is the VLAN in which ports are before anybody has set them up. The station has a VLAN of its own."
        ),
        consequence=(
            "Nothing of this lab is in that VLAN: no gateway, no pool, no row, so whoever is meant here is left out."
        ),
        claim=Claim.NO_ANSWER,
        hint="Which VLAN does table Stations name for it?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-id-third-octet",
        questions=VLAN_QUESTIONS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=_is_third_octet,
        explanation=(
            "{given} is the third number of the network's address. "
            "Some networks are numbered so, but here table Networks gives the VLAN."
        ),
        consequence="What is set up here belongs to another VLAN, and the stations meant here are left out.",
        claim=Claim.NONE,
        hint="Is the VLAN number of this lab worked out, or is it given?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-of-another-switch",
        questions=_PORTS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=_is_of_another_switch,
        explanation=(
            "VLAN {given} is on another switch. Links of this lab carry no VLAN, so it does not reach this port."
        ),
        consequence="The station reaches no gateway; a DHCP client gets no address.",
        claim=Claim.NO_ANSWER,
        hint="Which VLANs are on the switch of this port?",
        source=f"rules {HouseRule.LINKS} and {HouseRule.PORTS} of this lab; common practice, no source",
    ),
    Mistake(
        id="vlan-id-of-another-row",
        questions=VLAN_QUESTIONS,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=_is_of_another_row,
        explanation="VLAN {given} is in this lab, but belongs to another network.",
        consequence="The setting holds for the wrong network, and the stations meant here are left without it.",
        claim=Claim.NONE,
        hint="Which number stands beside the name of this network in table Networks?",
        source="common practice, no source",
    ),
    Mistake(
        id="vlan-digit-slip",
        questions=VLAN_QUESTIONS,
        priority=18,
        charged=Charged.EACH_TIME,
        fits=_is_digit_slip,
        explanation=(
            "No VLAN of the lab has the number {given}, but one looks much like it. A digit was changed in copying."
        ),
        consequence="What is set up belongs to a VLAN that does not exist.",
        claim=Claim.NO_ANSWER,
        hint="Do you get the same when you read the number in table Networks digit by digit?",
        source="common practice, no source",
    ),
    Mistake(
        id="access-vlan-not-created",
        questions=VLAN_QUESTIONS,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=_is_in_no_vlan_of_lab,
        explanation="No VLAN of this lab has the number {given}.",
        consequence="The setting belongs to a VLAN without a gateway, so whoever is in it stays cut off.",
        claim=Claim.NO_ANSWER,
        hint="Which numbers are in table Networks?",
        source="common practice, no source",
    ),
    Mistake(
        id="link-port-left-in-default",
        questions=_PORTS,
        priority=8,
        charged=Charged.EACH_TIME,
        fits=_is_default_on_link,
        explanation=(
            f"This port was left as it came, in VLAN {{given}}. Rule {HouseRule.LINKS} says that a link port carries "
            "no VLAN."
        ),
        consequence="The address of the link cannot be set on it, and the neighbour stays out of reach.",
        claim=Claim.NO_ANSWER,
        hint="Does the address of this link sit on a VLAN or on the port itself?",
        source=f"rule {HouseRule.LINKS} of this lab; common practice, no source",
    ),
    Mistake(
        id="link-port-in-a-vlan",
        questions=_PORTS,
        priority=9,
        charged=Charged.EACH_TIME,
        fits=_is_lab_vlan_on_link,
        explanation=(
            "You put the link into VLAN {given}, as if it had to be carried across. "
            "Here packets cross from network to network."
        ),
        consequence="The address of the link cannot be set on it, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="How does a packet leave its VLAN for another switch in this lab?",
        source=f"rule {HouseRule.LINKS} of this lab; common practice, no source",
    ),
    Mistake(
        id="port-switched-for-routed",
        questions=_PORTS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=_is_vlan_on_link,
        explanation="This port joins two switches and has an address of its own. A port in a VLAN cannot have one.",
        consequence="The neighbour stays out of reach, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint=f"What does rule {HouseRule.LINKS} say about the ports at both ends?",
        source=f"rule {HouseRule.LINKS} of this lab; common practice, no source",
    ),
    Mistake(
        id="server-port-without-vlan",
        questions=_PORTS,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=_is_server_without_vlan,
        explanation="This port carries no VLAN now, while the DHCP server has to be in one.",
        consequence="The server is cut off from its gateway, and no client in the lab gets an address.",
        claim=Claim.NO_LEASE,
        hint="In which network does the server have its address?",
        source=f"rule {HouseRule.PORTS} of this lab; common practice, no source",
    ),
    Mistake(
        id="port-routed-for-switched",
        questions=_PORTS,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=_is_station_without_vlan,
        explanation="This port carries no VLAN now, while the station on it has to be in one.",
        consequence="The station is cut off from its neighbours and its gateway.",
        claim=Claim.NO_ANSWER,
        hint="What is plugged in here: a switch or a station?",
        source=f"rule {HouseRule.PORTS} of this lab; common practice, no source",
    ),
    Mistake(
        id="server-in-client-vlan",
        questions=_PORTS,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=_is_server_in_client_vlan,
        explanation="VLAN {given} is one of the others; the DHCP server stands in a VLAN of its own.",
        consequence="Nobody finds the server at its address, and no client in the lab gets a lease.",
        claim=Claim.NO_LEASE,
        hint="Which VLAN does table Stations name for the server?",
        source="common practice, no source",
    ),
    Mistake(
        id="station-in-server-vlan",
        questions=_PORTS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=_is_station_in_server_vlan,
        explanation=(
            "VLAN {given} is the server's. The station belongs to a VLAN of its own and reaches the server from there."
        ),
        consequence="The station finds neither the gateway nor the pool of its own network.",
        claim=Claim.NO_ANSWER,
        hint="Which device brings a request from a client's VLAN to the server?",
        source="RFC 1542 section 4.1.1; the slip: common practice, no source",
    ),
)
