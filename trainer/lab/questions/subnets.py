"""Sheet Subnets: the network of each VLAN, and the VLAN interface of its switch."""

from ipaddress import IPv4Address, IPv4Network
from typing import NamedTuple

from trainer.lab.concepts import Concept
from trainer.lab.form import Answers, Choice, Question, Role, Row, Section, SoFar, Unique
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, DOTTED_MASK, PORT_SET, PREFIX_LENGTH
from trainer.lab.plan import Stretch, after, gateway_of, is_inside_block, stretches
from trainer.lab.rows import About, VlanRow
from trainer.lab.scenario import GatewayPlace, Order, Scenario
from trainer.lab.vlan_id import VlanId
from trainer.listing import how_many
from trainer.network.addresses import LONGEST_NETWORK, mask_of, network_at, prefix_length_for
from trainer.network.addresses import first_usable as first_usable_of
from trainer.network.addresses import last_usable as last_usable_of
from trainer.network.devices import PortName

__all__ = [
    "FREE_PLACE",
    "GATEWAY",
    "HEARD_ON",
    "LAST_USABLE",
    "MASK",
    "NETWORK_ADDRESS",
    "PREFIX_LENGTH_OF",
    "SUBNETS",
    "Placed",
    "last_placed",
    "network_of",
    "networks_above",
    "next_multiple",
    "placed_before",
    "stretch_of",
    "up_to_its_end",
]


class Placed(NamedTuple):
    """A VLAN's network, or a range of networks, and where it lies in the block."""

    vlan: VlanId
    """The VLAN; of a range the first one."""
    network: IPv4Network


def row_of(vlan: VlanId) -> VlanRow:
    """The row of a VLAN, on every sheet that has one."""
    return VlanRow(vlan)


def network_of(so_far: SoFar, vlan: VlanId) -> IPv4Network:
    """The network of a VLAN as planned so far."""

    def network() -> IPv4Network:
        row = row_of(vlan)
        return network_at(so_far.value(NETWORK_ADDRESS, row), so_far.value(PREFIX_LENGTH_OF, row))

    return so_far.once(("network", vlan), network)


def last_placed(scenario: Scenario, so_far: SoFar) -> Placed:
    """The VLAN network, or the range of networks, that comes last in the order; the links lie behind it."""
    return _placed(so_far, _stretches(scenario, so_far)[-1])


def placed_before(scenario: Scenario, so_far: SoFar, row: VlanRow) -> Placed | None:
    """What a VLAN's network lies behind: the network before it in its range, or the range before; None where it is first."""
    stretch, in_order = stretch_of(scenario, so_far, row), _stretches(scenario, so_far)
    place = stretch.vlans.index(row.vlan)
    if place:
        previous = stretch.vlans[place - 1]
        return Placed(previous, network_of(so_far, previous))
    number = in_order.index(stretch)
    return _placed(so_far, in_order[number - 1]) if number else None


def stretch_of(scenario: Scenario, so_far: SoFar, row: VlanRow) -> Stretch:
    """The range in which a VLAN's network lies; of plans without ranges the network alone."""
    return next(each for each in _stretches(scenario, so_far) if row.vlan in each.vlans)


def _stretches(scenario: Scenario, so_far: SoFar) -> tuple[Stretch, ...]:
    return so_far.once(
        "stretches", lambda: stretches(scenario, lambda vlan: so_far.value(PREFIX_LENGTH_OF, row_of(vlan)))
    )


def _placed(so_far: SoFar, stretch: Stretch) -> Placed:
    """Where a stretch lies as planned so far: around its first network."""
    first = stretch.vlans[0]
    return Placed(first, network_at(so_far.value(NETWORK_ADDRESS, row_of(first)), stretch.length))


def _prefix_length(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> int:
    return prefix_length_for(scenario.vlan_by_id[row.vlan].addresses_needed)


def _network_address(scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    """Behind the network before it in its stretch; the first of a stretch behind the stretch before."""
    before = placed_before(scenario, so_far, row)
    stretch = stretch_of(scenario, so_far, row)
    length = stretch.length if stretch.vlans[0] == row.vlan else so_far.value(PREFIX_LENGTH_OF, row)
    return after(None if before is None else before.network, scenario.block, length)


def _is_free_place(
    scenario: Scenario, answers: Answers, so_far: SoFar, row: VlanRow, address: IPv4Address
) -> bool | None:
    """In a free plan: a multiple of the network's own size, inside the block, off the networks of the rows above."""
    if scenario.rules.order is not Order.FREE:
        return None
    network = network_at(address, so_far.value(PREFIX_LENGTH_OF, row))
    return (
        network.network_address == address
        and network.subnet_of(scenario.block)
        and not any(network.overlaps(other) for other in networks_above(scenario, answers, so_far, row))
    )


def networks_above(scenario: Scenario, answers: Answers, so_far: SoFar, row: VlanRow | None) -> tuple[IPv4Network, ...]:
    """The networks that are written in the rows above this one; all of them where row is None."""
    rows = [row_of(vlan.id) for vlan in scenario.vlans]
    above = rows if row is None else rows[: rows.index(row)]
    return tuple(network_of(so_far, each.vlan) for each in above if answers.get(NETWORK_ADDRESS, each) is not None)


def _is_free_gateway(
    scenario: Scenario, _answers: Answers, so_far: SoFar, row: VlanRow, address: IPv4Address
) -> bool | None:
    """Where it is free: a usable address that is in no pool and no fixed station's."""
    if scenario.rules.gateway is not GatewayPlace.FREE:
        return None
    network = network_of(so_far, row.vlan)
    if not first_usable_of(network) <= address <= last_usable_of(network):
        return False
    number = int(address) - int(first_usable_of(network)) + 1
    fixed = {station.fixed_number for station in scenario.stations if station.vlan == row.vlan}
    is_in_no_pool = (
        number <= scenario.rules.kept_for_fixed
        or address == last_usable_of(network)
        or not scenario.dhcp_stations(row.vlan)
    )
    return number not in fixed and is_in_no_pool


def _first_usable(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return first_usable_of(network_of(so_far, row.vlan))


def _last_usable(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return last_usable_of(network_of(so_far, row.vlan))


def _broadcast_address(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return network_of(so_far, row.vlan).broadcast_address


def _gateway(scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return gateway_of(network_of(so_far, row.vlan), scenario.rules.gateway)


def _mask(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> int:
    return so_far.value(PREFIX_LENGTH_OF, row)


def _heard_on(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> frozenset[PortName]:
    """The ports of its stations: all are on one switch, and none of its frames goes over a routed port."""
    return frozenset(station.at.port for station in scenario.stations if station.vlan == row.vlan)


def _vlan_of(_scenario: Scenario, row: VlanRow) -> VlanId:
    return row.vlan


def is_network_length(scenario: Scenario, length: int) -> bool:
    """Whether a VLAN's network could have that length at all: no /31, and inside the block (R4). One as large as the block
    leaves no room for the others, but what rests on it can be worked out.
    """
    return scenario.block.prefixlen <= length <= LONGEST_NETWORK


def _why_here(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    size = network_of(so_far, row.vlan).num_addresses
    if scenario.rules.order is Order.FREE:
        return f"rule {HouseRule.ORDER} leaves it free: any multiple of {size} that no other network covers"
    before = placed_before(scenario, so_far, row)
    stretch = stretch_of(scenario, so_far, row)
    if scenario.rules.order is Order.RANGE_A_SWITCH and stretch.vlans[0] == row.vlan:
        size = 2 ** (32 - stretch.length)
        switch = scenario.vlan_by_id[row.vlan].switch
        where = "at the start of the block" if before is None else f"at the next multiple of {size}"
        return f"rule {HouseRule.ORDER}: first in the range of switch {switch}, {size} addresses {where}"
    if before is None:
        return f"rule {HouseRule.ORDER}: it comes first, at the start of the block"
    return (
        f"rule {HouseRule.ORDER}: behind VLAN {before.vlan} ({up_to_its_end(before.network)}), at {next_multiple(size)}"
    )


def up_to_its_end(network: IPv4Network) -> str:
    """A network with its last address, behind which the next one may lie."""
    return f"{network}, up to {network.broadcast_address}"


def next_multiple(size: int) -> str:
    """Where a network of that size may begin; of large ones as the third number shows it."""
    third = f", {size // 256} in the third number" if size >= 256 else ""
    return f"the next multiple of {size}{third}"


def _why_so_long(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    needed = scenario.vlan_by_id[row.vlan].addresses_needed
    host_bits = 32 - so_far.value(PREFIX_LENGTH_OF, row)
    return (
        f"{needed} needed + network and broadcast = {needed + 2}: more than {2 ** (host_bits - 1)}, at most {2**host_bits} "
        f"= 2^{host_bits}; 32 - {host_bits} = {32 - host_bits}"
    )


def _why_first(_scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    return "one above the network address"


def _why_last(_scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    return "one below the broadcast address"


def _why_broadcast(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    size = network_of(so_far, row.vlan).num_addresses
    return f"the last of {size} addresses: network address + {size - 1}"


_WHY_GATEWAYS = {
    GatewayPlace.FIRST_USABLE: f"rule {HouseRule.GATEWAY}: the first usable address",
    GatewayPlace.LAST_USABLE: f"rule {HouseRule.GATEWAY}: the last usable address",
    GatewayPlace.FREE: f"rule {HouseRule.GATEWAY} leaves it free; the key takes the first usable address",
}


def _why_gateway(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    return _WHY_GATEWAYS[scenario.rules.gateway]


def _why_mask(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    length = so_far.value(PREFIX_LENGTH_OF, row)
    whole, rest = divmod(length, 8)
    full = f"{how_many(whole, 'number')} of 255" if whole else ""
    ones = [str(2 ** (7 - place)) for place in range(rest)]
    value = f" = {str(mask_of(rest)).split('.', 1)[0]}" if rest > 1 else ""
    part = f"{rest} {'ones' if rest > 1 else 'one'}: {' + '.join(ones)}{value}" if rest else ""
    empty = "0 for what is left" if length <= 24 else ""  # three of the four numbers
    return f"/{length}: {', then '.join(filter(None, (full, part, empty)))}"


def _why_heard_on(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    vlan = scenario.vlan_by_id[row.vlan]
    namesakes = [each.switch for each in scenario.vlans_numbered(vlan.number) if each != vlan]
    beyond = f"; VLAN {vlan.number} of switch {' and '.join(namesakes)} is another one" if namesakes else ""
    return f"the ports of {vlan.name} on switch {vlan.switch}: a routed port hands no broadcast on{beyond}"


def block_length(scenario: Scenario) -> int:
    """The length of the whole block, which could be copied where a network's own is asked for."""
    return scenario.block.prefixlen


_HOW_TO_PLACE = {
    Order.LARGEST_FIRST: "Put the networks in order, shortest prefix length first. Each starts behind the one before it, at the "
    "next multiple of its own size.",
    Order.AS_LISTED: "Take the networks in the order of table Networks. Each starts behind the one before it, at the next "
    "multiple of its own size.",
    Order.RANGE_A_SWITCH: "Find the range of the switch first. Inside it, shortest prefix length first, each network starts "
    "behind the one before it, at the next multiple of its own size.",
    Order.FREE: "Take any multiple of its own size in the block that no other network covers.",
}
_HOW_TO_TAKE_THE_GATEWAY = {
    GatewayPlace.FIRST_USABLE: "Take the first usable address.",
    GatewayPlace.LAST_USABLE: "Take the last usable address.",
    GatewayPlace.FREE: "Take a usable address that is in no pool and no fixed station's.",
}


def _how_to_place(scenario: Scenario) -> str:
    return _HOW_TO_PLACE[scenario.rules.order]


def _how_to_take_the_gateway(scenario: Scenario) -> str:
    return _HOW_TO_TAKE_THE_GATEWAY[scenario.rules.gateway]


FREE_PLACE = "this row's length, and must overlap no other network of yours"
"""What the place of a network depends on where the Brief leaves it."""
NETWORK_ADDRESS = Question(
    id="subnets.network",
    heading="Network address",
    kind=ADDRESS,
    role=Role.DESCRIBES,
    answer=_network_address,
    reason=_why_here,
    concept=Concept.PLACE,
    how=_how_to_place,
    word="multiple: the multiples of 32 are 0, 32, 64, 96 and so on",
    is_usable=is_inside_block,
    choice=Choice(accepts=_is_free_place, rests_on=FREE_PLACE),
    must_differ=Unique.NETWORK,
    differs_in_row=True,
)
PREFIX_LENGTH_OF = Question(
    id="subnets.prefix",
    heading="Prefix length",
    kind=PREFIX_LENGTH,
    role=Role.DESCRIBES,
    answer=_prefix_length,
    reason=_why_so_long,
    concept=Concept.SIZE,
    how=lambda _: (
        "Addresses needed + 2, for the network and the broadcast address. Go up to the next power of two, 2^n. Its n are the "
        "host bits; the length is 32 - n."
    ),
    word="host bits: the last n of the 32 bits, which number the addresses inside a network",
    is_usable=is_network_length,
    given_to_copy=block_length,
)
FIRST_USABLE = Question(
    id="subnets.first",
    heading="First usable",
    kind=ADDRESS,
    role=Role.DESCRIBES,
    answer=_first_usable,
    reason=_why_first,
    concept=Concept.RANGE,
    how=lambda _: "Network address + 1.",
    word="usable: every address of a network but the network address and the broadcast address",
    is_usable=is_inside_block,
    worked_out_from=_vlan_of,
    differs_in_row=True,
)
LAST_USABLE = Question(
    id="subnets.last",
    heading="Last usable",
    kind=ADDRESS,
    role=Role.DESCRIBES,
    answer=_last_usable,
    reason=_why_last,
    concept=Concept.RANGE,
    how=lambda _: "Network address + size - 2, which is broadcast address - 1.",
    is_usable=is_inside_block,
    worked_out_from=_vlan_of,
    differs_in_row=True,
)
BROADCAST_ADDRESS = Question(
    id="subnets.broadcast",
    heading="Broadcast address",
    kind=ADDRESS,
    role=Role.DESCRIBES,
    answer=_broadcast_address,
    reason=_why_broadcast,
    concept=Concept.RANGE,
    how=lambda _: "Network address + size - 1, where the size is 2^(32 - length).",
    word="broadcast address: the last of a network, where all host bits are ones",
    is_usable=is_inside_block,
    worked_out_from=_vlan_of,
    differs_in_row=True,
)
GATEWAY = Question(
    id="subnets.gateway",
    heading="Gateway",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_gateway,
    reason=_why_gateway,
    concept=Concept.GATEWAY,
    how=_how_to_take_the_gateway,
    word="gateway: the address of the switch in a VLAN, through which packets leave it",
    is_usable=is_inside_block,
    choice=Choice(
        accepts=_is_free_gateway,
        rests_on="the network of this row, and must lie in no pool and be no station's",
    ),
    worked_out_from=_vlan_of,
    must_differ=Unique.DEVICE_ADDRESS,
)
MASK = Question(
    id="subnets.mask",
    heading="Mask",
    kind=DOTTED_MASK,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.SIZE,
    how=lambda _: (
        "Write as many ones as the length says, from the left: eight ones are 255. A rest of 1 to 7 ones is 128, 192, 224, "
        "240, 248, 252 or 254, then come zeros."
    ),
    word="mask: the prefix length written as four numbers",
    is_usable=is_network_length,
    given_to_copy=block_length,
    worked_out_from=_vlan_of,
    is_read_off=True,
)
HEARD_ON = Question(
    id="subnets.heard",
    heading="Heard on ports",
    kind=PORT_SET,
    role=Role.PREDICTS,
    answer=_heard_on,
    reason=_why_heard_on,
    concept=Concept.PORTS,
    how=lambda _: "Write the ports of the switch at which frames of this VLAN come in: those of its stations.",
    may_follow=False,
    is_read_off=True,
    asked_where=lambda scenario: scenario.rules.numbers_may_repeat,
)


def _rows(scenario: Scenario) -> tuple[Row[VlanRow], ...]:
    return tuple(Row(row_of(vlan.id), (str(vlan.id), vlan.name, str(vlan.addresses_needed))) for vlan in scenario.vlans)


SUBNETS = Section(
    id="subnets",
    title="Subnets",
    asks="network, prefix length, first, last, broadcast, gateway and mask of each VLAN",
    about=About.VLAN,
    decided_by=(HouseRule.BLOCK, HouseRule.SIZE, HouseRule.ORDER, HouseRule.GATEWAY),
    how_to_write="Gateway and Mask are what is set on the VLAN interface.",
    given=("VLAN", "Network", "Addresses needed"),
    questions=(
        NETWORK_ADDRESS,
        PREFIX_LENGTH_OF,
        FIRST_USABLE,
        LAST_USABLE,
        BROADCAST_ADDRESS,
        GATEWAY,
        MASK,
        HEARD_ON,
    ),
    rows=_rows,
)
