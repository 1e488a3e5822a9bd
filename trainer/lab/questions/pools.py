"""Sheet Pools: what the DHCP server hands out in each network."""

from collections.abc import Mapping
from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import Question, Role, Row, Section, SoFar, Unique
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, LEASE, MASK
from trainer.lab.plan import is_inside_block
from trainer.lab.questions import subnets
from trainer.lab.questions.stations import STATION_ADDRESS
from trainer.lab.rows import About, StationRow, VlanRow
from trainer.lab.scenario import GatewayPlace, Scenario
from trainer.network.addresses import last_usable, usable_address

__all__ = ["OPTIONS", "POOLS", "POOL_DNS", "POOL_FIRST", "POOL_LAST", "POOL_LEASE", "POOL_MASK", "POOL_ROUTER"]


def _first(scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return usable_address(subnets.network_of(so_far, row.vlan), scenario.rules.kept_for_fixed + 1)


def _last(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    last = last_usable(subnets.network_of(so_far, row.vlan))
    return last - 1 if last == so_far.value(subnets.GATEWAY, row) else last


def _mask(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> int:
    return so_far.value(subnets.MASK, row)


def _router(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return so_far.value(subnets.GATEWAY, row)


def _lease(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> int:
    return scenario.lease_hours * 3600


def _server(scenario: Scenario, so_far: SoFar, _row: VlanRow) -> IPv4Address:
    return so_far.value(STATION_ADDRESS, StationRow(scenario.server.name))


def _why_first(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    kept = scenario.rules.kept_for_fixed
    return f"rule {HouseRule.POOLS}: usable address no. {kept + 1}; the first {kept} are reserved for static addresses"


def _why_last(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    if so_far.value(subnets.GATEWAY, row) == last_usable(subnets.network_of(so_far, row.vlan)):
        return f"rule {HouseRule.POOLS}: the one before the last usable address, which is the gateway's"
    return f"rule {HouseRule.POOLS}: the last usable address"


def _why_mask(_scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    return f"as VLAN {row.vlan}'s interface has it"


def _why_router(_scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    return f"the gateway of VLAN {row.vlan}"


def _why_lease(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    return f"sheet Given: {scenario.lease_hours} h for every pool"


def _how_to_begin(scenario: Scenario) -> str:
    number = scenario.rules.kept_for_fixed + 1
    return f"Take usable address no. {number}, which is network address + {number}."


def _how_to_end(scenario: Scenario) -> str:
    if scenario.rules.gateway is GatewayPlace.FIRST_USABLE:
        return "Take the last usable address."
    return "Take the last usable address or, if the gateway has that, the one before it."


POOL_FIRST = Question(
    id="pools.first",
    heading="First address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_first,
    reason=_why_first,
    concept=Concept.POOL,
    how=_how_to_begin,
    word="pool: the addresses that the server may hand out in a network",
    is_usable=is_inside_block,
    worked_out_from=lambda _scenario, row: row.vlan,
    must_differ=Unique.POOL_ADDRESS,
    differs_in_row=True,
)
POOL_LAST = Question(
    id="pools.last",
    heading="Last address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_last,
    reason=_why_last,
    concept=Concept.POOL,
    how=_how_to_end,
    is_usable=is_inside_block,
    worked_out_from=lambda _scenario, row: row.vlan,
    must_differ=Unique.POOL_ADDRESS,
    differs_in_row=True,
)
POOL_MASK = Question(
    id="pools.mask",
    heading="Mask",
    kind=MASK,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.POOL,
    how=lambda _: "Copy the mask of the VLAN from sheet Subnets.",
    is_usable=subnets.is_network_length,
    given_to_copy=subnets.block_length,
    is_read_off=True,
)
POOL_ROUTER = Question(
    id="pools.router",
    heading="Router",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_router,
    reason=_why_router,
    concept=Concept.POOL,
    how=lambda _: "Copy the gateway of the VLAN from sheet Subnets.",
    word="router: what the server tells clients as their gateway",
    is_usable=is_inside_block,
)
POOL_LEASE = Question(
    id="pools.lease",
    heading="Lease",
    kind=LEASE,
    role=Role.CONFIGURES,
    answer=_lease,
    reason=_why_lease,
    concept=Concept.POOL,
    how=lambda _: "Copy it from sheet Given, with its unit.",
    word="lease: for how long a client may keep an address",
    is_read_off=True,
)


def _option_that_names_the_server(
    question: str, heading: str, *, option: str, does: str
) -> Question[IPv4Address, VlanRow]:
    """The question about an option that names the DHCP server, which does that too; labs ask it whose pools tell it.

    question: its id; option: its field of DhcpOptions.
    """

    def reason(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
        return f"rule {HouseRule.POOLS}: the fixed address of {scenario.server.name}, which {does}"

    return Question(
        id=question,
        heading=heading,
        kind=ADDRESS,
        role=Role.CONFIGURES,
        answer=_server,
        reason=reason,
        concept=Concept.POOL,
        how=lambda _: "Write the fixed address of the DHCP server.",
        asked_where=lambda scenario: option in scenario.rules.options_given,
    )


POOL_DNS = _option_that_names_the_server("pools.dns", "DNS server", option="dns_server", does="answers for names too")
OPTIONS: Mapping[str, Question[IPv4Address, VlanRow]] = {
    "dns_server": POOL_DNS,
}
"""The question about each option that pools may tell, by field of DhcpOptions, in their order.

A new one that names the server and that clients are only told (RFC 2132) takes, besides a line here, a field of `DhcpOptions`
(`network/devices.py`), a setting called as that field is (DEVELOPERS, "How to add a setting or a column"), what rule Pools says
of it (`lab/house_rules.py`) and its mistakes (`marking/mistakes/pool_options.py`). Network, proof, sheet Given, files for other
tools and texts about leases walk these.
"""

POOLS = Section(
    id="pools",
    title="Pools",
    asks="first and last address, mask, router and lease of each pool",
    about=About.VLAN,
    decided_by=(HouseRule.POOLS,),
    how_to_write="Write the lease with its unit.",
    given=("VLAN", "Network"),
    questions=(POOL_FIRST, POOL_LAST, POOL_MASK, POOL_ROUTER, POOL_LEASE, *OPTIONS.values()),
    rows=lambda scenario: tuple(
        Row(subnets.row_of(vlan.id), (str(vlan.id), vlan.name)) for vlan in scenario.dhcp_vlans
    ),
)
