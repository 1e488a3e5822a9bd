"""Mistakes on sheet Links: the networks between switches and the addresses of their ends."""

from ipaddress import IPv4Address

from trainer.lab.form import Question
from trainer.lab.house_rules import HouseRule
from trainer.lab.questions.links import FIRST_ADDRESS, LINK_NETWORK, SECOND_ADDRESS
from trainer.lab.rows import LinkRow
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import Charged, Claim, Mistake, WrongCell
from trainer.network.addresses import network_at

__all__ = ["LINK_MISTAKES"]

_NETWORK = frozenset({LINK_NETWORK.id})
_ENDS = frozenset({FIRST_ADDRESS.id, SECOND_ADDRESS.id})


# The network ----------------------------------------------------------------------------------------------------------


def _is_an_end(cell: WrongCell) -> bool:
    """Where it is not the network's address too, as the lower end of a link of two addresses is (RFC 3021 2.1)."""
    own = cell.network
    if own is None or cell.value not in (cell.beside(FIRST_ADDRESS), cell.beside(SECOND_ADDRESS)):
        return False
    return own.prefixlen < 31 or not cell.holds(network_at(cell.value, own.prefixlen).network_address)


def _is_in_a_vlan(cell: WrongCell) -> bool:
    return cell.is_in(*cell.plan.networks.values())


def _could_be_elsewhere(cell: WrongCell) -> bool:
    if cell.network is None or address.is_outside_block(cell):
        return False
    claimed = network_at(cell.value, cell.network.prefixlen)
    return cell.holds(claimed.network_address) and not cell.meets_others(claimed)


# The ends -------------------------------------------------------------------------------------------------------------


def _other_end(cell: WrongCell) -> Question[IPv4Address, LinkRow]:
    return SECOND_ADDRESS if cell.question is FIRST_ADDRESS else FIRST_ADDRESS


def _is_same_at_both_ends(cell: WrongCell) -> bool:
    return cell.holds(cell.beside(_other_end(cell)))


def _are_ends_swapped(cell: WrongCell) -> bool:
    other, row = _other_end(cell), cell.key_row
    is_right_there = row is not None and cell.holds(cell.right_by_plan(other, row))
    return is_right_there and bool(cell.beside(other) == cell.expected)


def _is_reserved_on_link(cell: WrongCell) -> bool:
    has_reserved = cell.network is not None and cell.network.prefixlen <= 30
    return has_reserved and (address.is_network_address(cell) or address.is_broadcast_address(cell))


def _skips_lower_address(cell: WrongCell) -> bool:
    own = cell.network
    return own is not None and own.prefixlen == 31 and int(cell.value) == int(own.broadcast_address) + 1


def _is_end_of_another_link(cell: WrongCell) -> bool:
    return any(cell.holds(end) for (name, _), end in cell.plan.link_ends.items() if name != cell.row)


def _is_on_another_link(cell: WrongCell) -> bool:
    return address.is_outside_own_network(cell) and address.is_on_link(cell)


LINK_MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        id="link-network-is-an-end",
        questions=_NETWORK,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=_is_an_end,
        explanation="{given} is the address of one end. The network address names the link as a whole.",
        consequence="Whoever sets up a device from it finds it refused or rounded down: the plan no longer matches what is set.",
        claim=Claim.NONE,
        hint="In which of the addresses of the link are all host bits zeros?",
        source="RFC 4632 section 3.1; RFC 3021 section 2.1",
    ),
    Mistake(
        id="link-network-outside-block",
        questions=_NETWORK,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_block,
        explanation="{given} is not in the address block of this lab. Link networks come from there, too.",
        consequence="The link may work, but its addresses are not the lab's to use.",
        claim=Claim.NONE,
        hint="Which are the first and the last address of the block on sheet Given?",
        source=f"rule {HouseRule.BLOCK} of this lab; common practice, no source",
    ),
    Mistake(
        id="link-network-in-a-vlan",
        questions=_NETWORK,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=_is_in_a_vlan,
        explanation="{given} lies in the network of a VLAN. The link needs a place of its own.",
        consequence="Packets for some addresses of that VLAN may go to a link that is set up from it, and are lost there.",
        claim=Claim.NONE,
        hint="Where does the last VLAN network of the plan end?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="link-network-elsewhere",
        questions=_NETWORK,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=_could_be_elsewhere,
        explanation=(
            f"{{given}} could start a network of this size. Rule {HouseRule.ORDER} gives another place to this link."
        ),
        consequence="The two switches can talk, but whoever builds from the rules sets up other addresses.",
        claim=Claim.NONE,
        hint=f"Behind which network, or which range, does rule {HouseRule.ORDER} put the links, and where does it end?",
        source=f"rule {HouseRule.ORDER} of this lab; RFC 4632 section 3.1",
    ),
    Mistake(
        id="p2p-end-is-gateway",
        questions=_ENDS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=address.is_gateway,
        explanation="{given} is the gateway of a VLAN. A link port has an address in the network of its link.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which network does this row name, and does the address lie in it?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="p2p-ends-swapped",
        questions=_ENDS,
        priority=11,
        charged=Charged.ONE_ROW,
        fits=_are_ends_swapped,
        explanation="The two ends of this link are exchanged: each of the addresses belongs to the other switch.",
        consequence=(
            f"The two ends hear each other, but a next hop taken from rule {HouseRule.LINKS} is then the switch's "
            "own address, and no route over this link works."
        ),
        claim=Claim.NO_ANSWER,
        hint=f"Which switch has the lower address, by rule {HouseRule.LINKS}?",
        source=f"rule {HouseRule.LINKS} of this lab; common practice, no source",
    ),
    Mistake(
        id="p2p-same-address-both-ends",
        questions=_ENDS,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=_is_same_at_both_ends,
        explanation="Both ends of the link have the same address.",
        consequence="Each switch takes its neighbour's address for its own and sends nothing across.",
        claim=Claim.NO_ANSWER,
        hint="How many devices are on this link, and how many addresses did you use?",
        source="RFC 5227 section 1",
    ),
    Mistake(
        id="p2p30-network-or-broadcast",
        questions=_ENDS,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=_is_reserved_on_link,
        explanation=(
            "{given} is the network or the broadcast address of this link. "
            "Only the addresses between them are given to devices."
        ),
        consequence="The port refuses the address, so the link never carries a packet.",
        claim=Claim.NO_ANSWER,
        hint="Which addresses has this link, and which of them are reserved?",
        source="RFC 1122 section 3.2.1.3; RFC 3021 section 2.2",
    ),
    Mistake(
        id="p2p31-skips-first",
        questions=_ENDS,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=_skips_lower_address,
        explanation=(
            "You ran past the end, as if the lower address were reserved. "
            "On a link with one host bit both addresses are usable."
        ),
        consequence="The two ends lie in different networks and cannot reach each other.",
        claim=Claim.NO_ANSWER,
        hint="Which two addresses does one host bit count?",
        source="RFC 3021 section 2.1",
    ),
    Mistake(
        id="p2p-end-of-another-link",
        questions=_ENDS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=_is_end_of_another_link,
        explanation="{given} is an end of another link.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which two switches does this row join?",
        source="RFC 5227 section 1; RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="p2p-end-is-a-station",
        questions=_ENDS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=address.is_any_station,
        explanation="{given} belongs to a station of a VLAN. A link port has an address in the network of its link.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which network does this row name, and does the address lie in it?",
        source="RFC 5227 section 1; RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="p2p-end-on-another-link",
        questions=_ENDS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=_is_on_another_link,
        explanation="{given} lies in the network of another link.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which network address stands in this very row?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="p2p-end-in-a-vlan",
        questions=_ENDS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=address.is_in_other_vlan,
        explanation="{given} lies in the network of a VLAN. A link between switches has a network of its own.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which network address stands in this very row?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="p2p-end-outside-link",
        questions=_ENDS,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_own_network,
        explanation="{given} is not in the network of this link.",
        consequence="The two ends lie in different networks, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="When you write down every address of the link, is yours among them?",
        source="RFC 1812 section 5.2.4.2",
    ),
)
