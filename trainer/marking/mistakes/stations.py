"""Mistakes on sheet Stations: addresses of the stations that have a fixed one."""

from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import links, stations, subnets
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import Charged, Claim, Mistake, WrongCell
from trainer.network.addresses import last_usable

__all__ = ["STATION_MISTAKES"]

_ADDRESS = frozenset({stations.STATION_ADDRESS.id})
_GATEWAY = frozenset({stations.STATION_GATEWAY.id})
_GIVEN_TO_DEVICES = {
    *(subnets.GATEWAY.id, stations.STATION_ADDRESS.id),
    *(links.FIRST_ADDRESS.id, links.SECOND_ADDRESS.id),
}


def _is_one_short(cell: WrongCell) -> bool:
    return cell.offset == -1


def _is_one_too_far(cell: WrongCell) -> bool:
    return cell.offset == 1


def _leaves_gateway_out(cell: WrongCell) -> bool:
    """Only a gateway that lies before can have been left out."""
    return cell.gateway is not None and cell.gateway < cell.expected and _is_one_too_far(cell)


def _number(cell: WrongCell) -> int | None:
    """Which usable address of its network the station has."""
    return None if cell.station is None else cell.station.fixed_number


def _counts_from_the_end(cell: WrongCell) -> bool:
    number = _number(cell)
    if number is None or cell.network is None:
        return False
    return int(cell.value) == int(last_usable(cell.network)) - number + 1


def _is_number_as_last_octet(cell: WrongCell) -> bool:
    """With the other three numbers those of the network's start, and outside the network therefore."""
    number = _number(cell)
    if number is None or cell.network is None or address.is_in_own_network(cell):
        return False
    return int(cell.value) == (int(cell.network.network_address) & ~255) + number


def _is_of_another_station(cell: WrongCell) -> bool:
    own = None if cell.station is None else cell.station.name
    return any(cell.holds(each) for name, each in cell.plan.station_addresses.items() if name != own)


def _is_in_pool(cell: WrongCell) -> bool:
    return cell.vlan is not None and int(cell.value) in cell.plan.pool(cell.vlan.id)


def _is_another_devices(cell: WrongCell) -> bool:
    """Whether the trainee gives the address to another device, in another cell."""
    return any(
        value == cell.value
        for ref, value in cell.plan.answers.values.items()
        if ref.question in _GIVEN_TO_DEVICES and ref != cell.ref
    )


def _is_own_address(cell: WrongCell) -> bool:
    return cell.holds(cell.beside(stations.STATION_ADDRESS))


STATION_MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        id="host-address-is-reserved",
        questions=_ADDRESS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=address.is_reserved,
        explanation="{given} is a network or broadcast address, which is given to no device.",
        consequence="The station refuses the address and stays without one.",
        claim=Claim.NO_ANSWER,
        hint="Are the host bits of your answer all zeros or all ones?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-address-is-gateway",
        questions=_ADDRESS,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=address.is_gateway,
        explanation="{given} already belongs to a switch, as the gateway of a VLAN.",
        consequence=(
            "Two devices answer for one address, so the station's connections may break off or never come about."
        ),
        claim=Claim.NO_ANSWER,
        hint="Where on sheet Subnets does this address stand?",
        source="RFC 5227 section 1",
    ),
    Mistake(
        id="host-address-of-another-station",
        questions=_ADDRESS,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=_is_of_another_station,
        explanation="{given} belongs to another station.",
        consequence=(
            "In one VLAN the two claim one address, and either may be the one that is reached; in another VLAN "
            "only the other one is."
        ),
        claim=Claim.NO_ANSWER,
        hint="Which station of table Stations has the number that leads to this address?",
        source="RFC 5227 section 1",
    ),
    Mistake(
        id="host-number-counts-network-address",
        questions=_ADDRESS,
        priority=13,
        charged=Charged.ONCE,
        fits=_is_one_short,
        explanation=(
            "Your count is one short, as if the network address were usable. The lowest usable address is number one."
        ),
        consequence="A binding row or a relay agent that names the station by its right address then misses it.",
        claim=Claim.NONE,
        hint="Which address did you count as the first?",
        source=f"rule {HouseRule.FIXED} of this lab; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-number-one-too-far",
        questions=_ADDRESS,
        priority=13,
        charged=Charged.ONCE,
        fits=_leaves_gateway_out,
        explanation=(
            "Your count is one too far, as if an address before were left out. "
            "Every usable address counts, the gateway's too."
        ),
        consequence="A binding row or a relay agent that names the station by its right address then misses it.",
        claim=Claim.NONE,
        hint="Did you count the gateway among the usable addresses?",
        source=f"rule {HouseRule.FIXED} of this lab; common practice, no source",
    ),
    Mistake(
        id="host-number-counted-past",
        questions=_ADDRESS,
        priority=13,
        charged=Charged.ONCE,
        fits=_is_one_too_far,
        explanation="Your count is one too far. The lowest usable address is number one.",
        consequence="A binding row or a relay agent that names the station by its right address then misses it.",
        claim=Claim.NONE,
        hint="Which address did you count as the first?",
        source=f"rule {HouseRule.FIXED} of this lab; common practice, no source",
    ),
    Mistake(
        id="host-number-as-last-octet",
        questions=_ADDRESS,
        priority=14,
        charged=Charged.ONCE,
        fits=_is_number_as_last_octet,
        explanation=(
            "You wrote the station's number as the last number of the address. "
            "It is counted from the start of the network."
        ),
        consequence="The address lies in another network, and the station reaches neither gateway nor neighbours.",
        claim=Claim.NO_ANSWER,
        hint="At which last number does this network start, and where do you get to from there?",
        source=f"rule {HouseRule.FIXED} of this lab; common practice, no source",
    ),
    Mistake(
        id="host-number-counted-from-end",
        questions=_ADDRESS,
        priority=14,
        charged=Charged.ONCE,
        fits=_counts_from_the_end,
        explanation=f"You counted down from the last usable address. Rule {HouseRule.FIXED} counts up from the lowest.",
        consequence="The address may lie in the pool, and the server may hand it to a client as well.",
        claim=Claim.NONE,
        hint=f"In which direction does rule {HouseRule.FIXED} count?",
        source=f"rule {HouseRule.FIXED} of this lab; RFC 2131 section 2.2",
    ),
    Mistake(
        id="host-address-in-pool",
        questions=_ADDRESS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=_is_in_pool,
        explanation=(
            "{given} lies in the pool of this VLAN. Fixed stations have addresses that the server never hands out."
        ),
        consequence="The server may hand it to a client as well, and then both may lose their connections.",
        claim=Claim.NONE,
        hint="How many addresses at the start of every network are reserved for static addresses?",
        source=f"RFC 2131 section 2.2; RFC 5227 section 1; rule {HouseRule.POOLS} of this lab",
    ),
    Mistake(
        id="duplicate-address",
        questions=_ADDRESS,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=_is_another_devices,
        explanation="In your own answers {given} belongs to another device already.",
        consequence="Two devices claim one address, so this one's connections may break off or never come about.",
        claim=Claim.NO_ANSWER,
        hint="Does an address appear twice when you sort all that you have written?",
        source="RFC 5227 section 1 and section 2",
    ),
    Mistake(
        id="host-address-wrong-subnet",
        questions=_ADDRESS,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=address.is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN, not of the one this station is plugged into.",
        consequence="The station reaches neither its gateway nor its neighbours.",
        claim=Claim.NO_ANSWER,
        hint="In which VLAN is its port, and which range belongs to that VLAN?",
        source="RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="host-address-outside-vlans",
        questions=_ADDRESS,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_plan,
        explanation="{given} is in no VLAN network of your plan.",
        consequence="The station reaches neither its gateway nor its neighbours.",
        claim=Claim.NO_ANSWER,
        hint="Which range did you plan for the VLAN of this station?",
        source="RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="host-address-not-as-given",
        questions=_ADDRESS,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=address.is_in_own_network,
        explanation="{given} is in the right network, but is not the usable address whose number table Stations gives.",
        consequence="A binding row or a relay agent that names the station by its right address then misses it.",
        claim=Claim.NONE,
        hint="Which number has this station, and which address is number one?",
        source=f"rule {HouseRule.FIXED} of this lab; common practice, no source",
    ),
    Mistake(
        id="gateway-is-host-itself",
        questions=_GATEWAY,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=_is_own_address,
        explanation="The station has its own address as its gateway.",
        consequence="It looks for far addresses in its own network, and reaches nothing outside it.",
        claim=Claim.NO_ANSWER,
        hint="Who has to pass the packet on: the station, or the device between the networks?",
        source="RFC 1122 section 3.3.1.2",
    ),
)
