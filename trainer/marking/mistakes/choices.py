"""Mistakes in what is the trainee's own choice: a plan, a gateway or a link end that keeps a rule of the Brief no longer.

They are asked first, because against a free choice no other value can be called the right one.
"""

from ipaddress import IPv4Network

from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import links, subnets
from trainer.lab.rows import LinkRow, VlanRow
from trainer.lab.scenario import Order
from trainer.marking.mistakes.mistake import Charged, Claim, Mistake, WrongCell
from trainer.marking.mistakes.question_groups import NETWORK_QUESTIONS
from trainer.network.addresses import first_usable, last_usable, network_at

__all__ = ["CHOICES"]

_GATEWAY = frozenset({subnets.GATEWAY.id})
_END = frozenset({links.FIRST_ADDRESS.id})


def _breaks_a_rule(cell: WrongCell) -> bool:
    """Whether the Brief leaves a choice here, and the value is outside it."""
    if cell.question.choice is None or cell.key_row is None:
        return False
    if cell.question.id in NETWORK_QUESTIONS and cell.scenario.rules.order is Order.FREE:
        return not cell.plan.free.accepts(cell.ref)
    plan = cell.plan
    return cell.question.accepts(cell.scenario, plan.answers, plan.so_far, cell.key_row, cell.value) is False


def _claimed(cell: WrongCell) -> IPv4Network:
    """The network that starts, or should start, at the value."""
    row, so_far = cell.key_row, cell.plan.so_far
    if isinstance(row, VlanRow):
        return network_at(cell.value, so_far.value(subnets.PREFIX_LENGTH_OF, row))
    assert isinstance(row, LinkRow), "networks are asked for in rows of VLANs and links"
    return network_at(cell.value, so_far.value(links.LINK_MASK, row))


def _is_contradicted(cell: WrongCell) -> bool:
    """Whether the other cells of the row go by a network that lies elsewhere."""
    return cell.ref in cell.plan.free.meant


def _shares_addresses(cell: WrongCell) -> bool:
    return _breaks_a_rule(cell) and cell.meets_others(_claimed(cell))


def _is_outside_block(cell: WrongCell) -> bool:
    return _breaks_a_rule(cell) and not _claimed(cell).subnet_of(cell.scenario.block)


def _is_no_multiple(cell: WrongCell) -> bool:
    return _breaks_a_rule(cell) and not cell.holds(_claimed(cell).network_address)


def _is_not_usable(cell: WrongCell) -> bool:
    network = cell.network
    if network is None or not _breaks_a_rule(cell):
        return False
    return not first_usable(network) <= cell.value <= last_usable(network)


def _is_a_stations(cell: WrongCell) -> bool:
    """The number of a fixed station counts, wherever the trainee wrote its address."""
    vlan, network = cell.vlan, cell.network
    if vlan is None or network is None or not _breaks_a_rule(cell):
        return False
    number = int(cell.value) - int(first_usable(network)) + 1
    return any(station.vlan == vlan.id and station.fixed_number == number for station in cell.scenario.stations)


def _is_lent(cell: WrongCell) -> bool:
    """Whether the pool as the trainee wrote it holds the gateway."""
    return cell.vlan is not None and _breaks_a_rule(cell) and int(cell.value) in cell.plan.pool(cell.vlan.id)


CHOICES = (
    Mistake(
        id="own-plan-outside-block",
        questions=NETWORK_QUESTIONS,
        priority=1,
        charged=Charged.EACH_TIME,
        fits=_is_outside_block,
        explanation="The plan is yours, but this network does not lie inside the block of the lab.",
        consequence="The addresses are not the lab's to use.",
        claim=Claim.NONE,
        hint="Between which two addresses does the block lie, and is your whole network between them?",
        source=f"RFC 4632 section 3.1; rule {HouseRule.BLOCK} of this lab",
    ),
    Mistake(
        id="own-plan-off-boundary",
        questions=NETWORK_QUESTIONS,
        priority=1,
        charged=Charged.EACH_TIME,
        fits=_is_no_multiple,
        explanation="The plan is yours, but a network starts at a multiple of its own size, and {given} is none.",
        consequence="A network that is set up from it starts lower than you wrote.",
        claim=Claim.NONE,
        hint="Keep only the bits that the prefix length covers: what is left of your address?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="own-plan-contradicts-its-row",
        questions=NETWORK_QUESTIONS,
        priority=3,
        charged=Charged.EACH_TIME,
        fits=_is_contradicted,
        explanation="The plan is yours, but the other cells of this row go by a network that starts elsewhere.",
        consequence="Whoever sets up the lab cannot tell which of the two is meant.",
        claim=Claim.NONE,
        hint="To which network do the first usable, the last usable and the other addresses of this row belong?",
        source=f"rule {HouseRule.ORDER} of this lab; common practice, no source",
    ),
    Mistake(
        id="own-plan-overlaps",
        questions=NETWORK_QUESTIONS,
        priority=2,
        charged=Charged.EACH_TIME,
        fits=_shares_addresses,
        explanation="The plan is yours, but this network shares addresses with another one of yours.",
        consequence=(
            "Set up from such a plan, two interfaces claim the same addresses: one of them may stay dead, and packets may go "
            "to the wrong VLAN."
        ),
        claim=Claim.NONE,
        hint="If you sort your networks by their first address, do two of their ranges meet?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="own-gateway-not-usable",
        questions=_GATEWAY,
        priority=1,
        charged=Charged.EACH_TIME,
        fits=_is_not_usable,
        explanation="The choice is yours, but {given} is no usable address of this VLAN's network.",
        consequence="Stations of the VLAN reach nothing beyond it, because their gateway is not among them.",
        claim=Claim.NO_ANSWER,
        hint="Which addresses of the network may a device have?",
        source="RFC 1122 section 3.2.1.3, section 3.3.1.1",
    ),
    Mistake(
        id="own-gateway-is-a-stations",
        questions=_GATEWAY,
        priority=1,
        charged=Charged.EACH_TIME,
        fits=_is_a_stations,
        explanation="The choice is yours, but {given} is the address of a station with a fixed one.",
        consequence="Two devices answer for one address, and connections of the whole VLAN may break off.",
        claim=Claim.NO_ANSWER,
        hint="Which numbers does table Stations give away in this VLAN?",
        source="RFC 5227 section 1",
    ),
    Mistake(
        id="own-gateway-in-pool",
        questions=_GATEWAY,
        priority=2,
        charged=Charged.EACH_TIME,
        fits=_is_lent,
        explanation="The choice is yours, but {given} is an address that the pool hands out.",
        consequence="A client may be given the gateway's address, and then the VLAN may lose its way out.",
        claim=Claim.NONE,
        hint=f"Where does rule {HouseRule.POOLS} let the pool begin and end?",
        source=f"RFC 2131 section 3.1; rule {HouseRule.GATEWAY} of this lab",
    ),
    Mistake(
        id="own-gateway-where-the-pool-belongs",
        questions=_GATEWAY,
        priority=3,
        charged=Charged.EACH_TIME,
        fits=_breaks_a_rule,
        explanation=(
            f"The choice is yours, but {{given}} lies where rule {HouseRule.POOLS} puts the pool of this network, "
            "counted from where the network really starts."
        ),
        consequence="A pool that is set up by the rule holds the gateway's address.",
        claim=Claim.NONE,
        hint="At which address does the network start when you keep the network bits only, and where does its pool?",
        source=f"RFC 2131 section 3.1; rules {HouseRule.GATEWAY} and {HouseRule.POOLS} of this lab",
    ),
    Mistake(
        id="own-link-end-outside",
        questions=_END,
        priority=2,
        charged=Charged.EACH_TIME,
        fits=_breaks_a_rule,
        explanation="Which end you take is yours to choose, but {given} is no usable address of this link.",
        consequence="The two switches do not reach each other, and no route over this link works.",
        claim=Claim.NO_ANSWER,
        hint="Which two addresses of the link's network may a device have?",
        source="RFC 1812 section 5.2.4.2; RFC 3021 section 2.1",
    ),
)
