"""Sheet Links: the networks of the routed links and the addresses of both ends."""

from ipaddress import IPv4Address, IPv4Network

from trainer.lab.concepts import Concept
from trainer.lab.form import Answers, Choice, Question, Role, Row, Section, SoFar, Unique
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, MASK
from trainer.lab.plan import after, is_inside_block
from trainer.lab.questions.subnets import FREE_PLACE, last_placed, networks_above, next_multiple, up_to_its_end
from trainer.lab.rows import About, LinkRow
from trainer.lab.scenario import Link, LinkEnds, Order, Scenario
from trainer.network.addresses import first_usable, last_usable, network_at
from trainer.network.devices import SwitchName

__all__ = ["LINKS", "LINK_MASK", "address_question", "end_address", "network_of"]


def end_address(so_far: SoFar, link: Link, switch: SwitchName) -> IPv4Address:
    """The address of a switch on a link, as planned so far."""
    return so_far.value(address_question(link, switch), LinkRow(link.name))


def address_question(link: Link, switch: SwitchName) -> Question[IPv4Address, LinkRow]:
    """The question that asks for the address of that switch on the link."""
    return FIRST_ADDRESS if link.first.switch == switch else SECOND_ADDRESS


def network_of(so_far: SoFar, row: LinkRow) -> IPv4Network:
    """The network of a link as planned so far."""
    return network_at(so_far.value(LINK_NETWORK, row), so_far.value(LINK_MASK, row))


def _network_address(scenario: Scenario, so_far: SoFar, row: LinkRow) -> IPv4Address:
    names = [link.name for link in scenario.links]
    place = names.index(row.link)
    previous = network_of(so_far, LinkRow(names[place - 1])) if place else last_placed(scenario, so_far).network
    return after(previous, scenario.block, scenario.link_length)


def _mask(scenario: Scenario, _so_far: SoFar, _row: LinkRow) -> int:
    return scenario.link_length


def _first_address(_scenario: Scenario, so_far: SoFar, row: LinkRow) -> IPv4Address:
    return first_usable(network_of(so_far, row))


def _second_address(scenario: Scenario, so_far: SoFar, row: LinkRow) -> IPv4Address:
    """The higher one; where the ends are free, the one that the first switch does not have."""
    network = network_of(so_far, row)
    if scenario.rules.link_ends is LinkEnds.FREE and so_far.value(FIRST_ADDRESS, row) == last_usable(network):
        return first_usable(network)
    return last_usable(network)


def _is_free_place(
    scenario: Scenario, answers: Answers, so_far: SoFar, row: LinkRow, address: IPv4Address
) -> bool | None:
    """In a free plan: a multiple of the link network's size, inside the block, off every network written above."""
    if scenario.rules.order is not Order.FREE:
        return None
    network = network_at(address, so_far.value(LINK_MASK, row))
    names = [LinkRow(link.name) for link in scenario.links]
    above = [each for each in names[: names.index(row)] if answers.get(LINK_NETWORK, each) is not None]
    others = (*networks_above(scenario, answers, so_far, None), *(network_of(so_far, each) for each in above))
    return (
        network.network_address == address
        and network.subnet_of(scenario.block)
        and not any(network.overlaps(other) for other in others)
    )


def _is_free_end(
    scenario: Scenario, _answers: Answers, so_far: SoFar, row: LinkRow, address: IPv4Address
) -> bool | None:
    """Where the ends are free: one of the two usable addresses. The second switch has the other one."""
    if scenario.rules.link_ends is not LinkEnds.FREE:
        return None
    network = network_of(so_far, row)
    return address in (first_usable(network), last_usable(network))


def _is_link_length(_scenario: Scenario, length: int) -> bool:
    """Whether the network holds two devices and no crowd; wider masks are a mistake to stop at (R4)."""
    return length in (30, 31)


def _why_here(scenario: Scenario, so_far: SoFar, row: LinkRow) -> str:
    size = 2 ** (32 - scenario.link_length)
    if scenario.rules.order is Order.FREE:
        return f"rule {HouseRule.ORDER} leaves it free: any multiple of {size} that no other network covers"
    names = [link.name for link in scenario.links]
    last = last_placed(scenario, so_far)
    if names.index(row.link):
        previous = names[names.index(row.link) - 1]
        behind = f"link {previous} ({up_to_its_end(network_of(so_far, LinkRow(previous)))})"
    elif scenario.rules.order is Order.RANGE_A_SWITCH:
        behind = f"the last range, that of switch {scenario.vlan_by_id[last.vlan].switch}"
    else:
        behind = f"VLAN {last.vlan} ({up_to_its_end(last.network)})"
    return f"rule {HouseRule.ORDER}: links come last; behind {behind}, at {next_multiple(size)}"


def _why_mask(scenario: Scenario, _so_far: SoFar, _row: LinkRow) -> str:
    if scenario.link_length == 31:
        return f"rule {HouseRule.LINKS}: /31, both addresses are ends (RFC 3021)"
    return f"rule {HouseRule.LINKS}: /{scenario.link_length}, {2 ** (32 - scenario.link_length)} addresses, 2 of them usable"


def _why_first_end(scenario: Scenario, _so_far: SoFar, row: LinkRow) -> str:
    return _why_end(scenario, row, is_first=True)


def _why_second_end(scenario: Scenario, _so_far: SoFar, row: LinkRow) -> str:
    return _why_end(scenario, row, is_first=False)


def _why_end(scenario: Scenario, row: LinkRow, *, is_first: bool) -> str:
    link = scenario.link_by_name[row.link]
    switch = (link.first if is_first else link.second).switch
    if scenario.rules.link_ends is LinkEnds.FREE:
        return (
            f"either end is right for {switch} (rule {HouseRule.LINKS})"
            if is_first
            else f"the one that {link.first.switch} leaves"
        )
    return f"rule {HouseRule.LINKS}: {switch} is named {'first: the lower' if is_first else 'second: the higher'} usable address"


def _how_to_place(scenario: Scenario) -> str:
    size = 2 ** (32 - scenario.link_length)
    if scenario.rules.order is Order.FREE:
        return f"Take any multiple of {size} in the block that no other network covers."
    return f"The links come last: start behind the last VLAN network, or behind the link before, at the next multiple of {size}."


def _how_to_take_the_first(scenario: Scenario) -> str:
    if scenario.rules.link_ends is LinkEnds.FREE:
        return "Take either of the two usable addresses."
    return "Take the lower of the two usable addresses: this switch is named first."


LINK_NETWORK = Question(
    id="links.network",
    heading="Network address",
    kind=ADDRESS,
    role=Role.DESCRIBES,
    answer=_network_address,
    reason=_why_here,
    concept=Concept.LINK,
    how=_how_to_place,
    is_usable=is_inside_block,
    choice=Choice(accepts=_is_free_place, rests_on=FREE_PLACE),
    must_differ=Unique.NETWORK,
)
LINK_MASK = Question(
    id="links.mask",
    heading="Mask",
    kind=MASK,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.LINK,
    how=lambda _: "Sheet Given says how long link networks are.",
    is_usable=_is_link_length,
    is_read_off=True,
)
FIRST_ADDRESS = Question(
    id="links.first",
    heading="Address of the first switch",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_first_address,
    reason=_why_first_end,
    concept=Concept.LINK,
    how=_how_to_take_the_first,
    word="link: two routed ports and a network of their own, which carries no VLAN",
    is_usable=is_inside_block,
    choice=Choice(accepts=_is_free_end, rests_on="the network of this row"),
    must_differ=Unique.DEVICE_ADDRESS,
    differs_in_row=True,
)
SECOND_ADDRESS = Question(
    id="links.second",
    heading="Address of the second switch",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_second_address,
    reason=_why_second_end,
    concept=Concept.LINK,
    how=lambda _: "Take the usable address that the first switch does not have.",
    is_usable=is_inside_block,
    must_differ=Unique.DEVICE_ADDRESS,
    differs_in_row=True,
)

LINKS = Section(
    id="links",
    title="Links",
    asks="network, mask and both addresses of each link between switches",
    about=About.LINK,
    decided_by=(HouseRule.ORDER, HouseRule.LINKS),
    given=("Link",),
    questions=(LINK_NETWORK, LINK_MASK, FIRST_ADDRESS, SECOND_ADDRESS),
    rows=lambda scenario: tuple(Row(LinkRow(link.name), (link.name,)) for link in scenario.links),
)
