"""Sheet Pools: what the DHCP server hands out in each network."""

from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import About, Question, Role, Row, RowKey, Section, SoFar, Unique
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, LEASE, MASK
from trainer.lab.plan import is_inside_block
from trainer.lab.questions import subnets
from trainer.lab.scenario import Scenario
from trainer.network.addresses import last_usable, usable_address

__all__ = ["POOLS", "POOL_FIRST", "POOL_LAST", "POOL_LEASE", "POOL_MASK", "POOL_ROUTER"]


def _first(scenario: Scenario, so_far: SoFar, row: RowKey) -> IPv4Address:
    return usable_address(subnets.network_of(so_far, int(row)), scenario.rules.kept_for_fixed + 1)


def _last(_scenario: Scenario, so_far: SoFar, row: RowKey) -> IPv4Address:
    last = last_usable(subnets.network_of(so_far, int(row)))
    return last - 1 if last == so_far.value(subnets.GATEWAY, row) else last


def _mask(_scenario: Scenario, so_far: SoFar, row: RowKey) -> int:
    return so_far.value(subnets.MASK, row)


def _router(_scenario: Scenario, so_far: SoFar, row: RowKey) -> IPv4Address:
    return so_far.value(subnets.GATEWAY, row)


def _lease(scenario: Scenario, _so_far: SoFar, _row: RowKey) -> int:
    return scenario.lease_hours * 3600


def _why_first(scenario: Scenario, _so_far: SoFar, _row: RowKey) -> str:
    kept = scenario.rules.kept_for_fixed
    return f"rule {HouseRule.POOLS}: usable address no. {kept + 1}; the first {kept} are reserved for static addresses"


def _why_last(_scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    if so_far.value(subnets.GATEWAY, row) == last_usable(subnets.network_of(so_far, int(row))):
        return f"rule {HouseRule.POOLS}: the one before the last usable address, which is the gateway's"
    return f"rule {HouseRule.POOLS}: the last usable address"


def _why_mask(_scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    return f"as VLAN {row}'s interface has it"


def _why_router(_scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    return f"the gateway of VLAN {row}"


def _why_lease(scenario: Scenario, _so_far: SoFar, _row: RowKey) -> str:
    return f"sheet Given: {scenario.lease_hours} h for every pool"


POOL_FIRST = Question(
    id="pools.first",
    heading="First address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_first,
    reason=_why_first,
    concept=Concept.POOL,
    is_usable=is_inside_block,
    worked_out_from=lambda _scenario, row: int(row),
    must_differ=Unique.POOL_ADDRESS,
)
POOL_LAST = Question(
    id="pools.last",
    heading="Last address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_last,
    reason=_why_last,
    concept=Concept.POOL,
    is_usable=is_inside_block,
    worked_out_from=lambda _scenario, row: int(row),
    must_differ=Unique.POOL_ADDRESS,
)
POOL_MASK = Question(
    id="pools.mask",
    heading="Mask",
    kind=MASK,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.POOL,
    is_usable=subnets.is_network_length,
    given_to_copy=subnets.block_length,
)
POOL_ROUTER = Question(
    id="pools.router",
    heading="Router",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_router,
    reason=_why_router,
    concept=Concept.POOL,
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
)

POOLS = Section(
    id="pools",
    title="Pools",
    asks="first and last address, mask, router and lease of each pool",
    about=About.VLAN,
    decided_by=(HouseRule.POOLS,),
    how_to_write="Write the lease with its unit.",
    given=("VLAN", "Network"),
    questions=(POOL_FIRST, POOL_LAST, POOL_MASK, POOL_ROUTER, POOL_LEASE),
    rows=lambda scenario: tuple(
        Row(subnets.row_of(vlan.number), (str(vlan.number), vlan.name)) for vlan in scenario.dhcp_vlans
    ),
)
