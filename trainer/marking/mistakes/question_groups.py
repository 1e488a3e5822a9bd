"""Groups of questions that mistakes of several topics can be made in, by their ids."""

from typing import Any

from trainer.lab.kinds import ADDRESS, DESTINATION, DOTTED_MASK, MASK, PREFIX_LENGTH, ROUTE_MASK, VLAN, Kind
from trainer.lab.questions import FORM, bindings, links, pools, ports, subnets

__all__ = [
    "ADDRESS_QUESTIONS",
    "ALL_QUESTIONS",
    "LEASE_QUESTIONS",
    "LENGTH_QUESTIONS",
    "LIST_QUESTIONS",
    "NETWORK_QUESTIONS",
    "OPEN_ROW_QUESTIONS",
    "VLAN_QUESTIONS",
]


def _answered_by(*kinds: Kind[Any]) -> frozenset[str]:
    return frozenset(each.id for section in FORM for each in section.questions if any(each.kind is k for k in kinds))


ALL_QUESTIONS = frozenset(each.id for section in FORM for each in section.questions)
ADDRESS_QUESTIONS = _answered_by(ADDRESS, DESTINATION)
LENGTH_QUESTIONS = _answered_by(DOTTED_MASK, MASK, ROUTE_MASK, PREFIX_LENGTH)
VLAN_QUESTIONS = _answered_by(VLAN) | {ports.PORT_VLAN.id}
LIST_QUESTIONS = frozenset(each.id for section in FORM for each in section.questions if each.kind.is_set)
OPEN_ROW_QUESTIONS = frozenset(each.id for section in FORM if section.open is not None for each in section.questions)
NETWORK_QUESTIONS = frozenset({subnets.NETWORK_ADDRESS.id, links.LINK_NETWORK.id})
"""Those that say where a network starts."""
LEASE_QUESTIONS = frozenset({pools.POOL_LEASE.id, bindings.BINDING_LEASE.id})
