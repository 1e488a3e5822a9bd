"""What people set wrongly: the generator beside the catalogue of mistakes, which only recognises.

A slip is one edit of a right plan. It names the mistakes of the catalogue that must recognise it
(tests/lab/repair/test_slips.py holds both together). Its role says where in a lab it is made without naming the place, so
that every trainee of a sitting gets the same slip on other switches, VLANs and addresses.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, Section, SoFar
from trainer.lab.kinds import BindingType
from trainer.lab.questions import (
    QUESTIONS,
    bindings,
    links,
    pools,
    ports,
    protection,
    relays,
    routes,
    stations,
    subnets,
)
from trainer.lab.repair import slip_values as wrong
from trainer.lab.repair.sheet import Edit, SlipKind
from trainer.lab.repair.slip_values import Plan, Values
from trainer.lab.rows import LinkRow, PortRow, RouteRow, StationRow, SwitchRow, VlanRow
from trainer.lab.scenario import RouteRule, Scenario, StationPlan, Vlan

__all__ = ["SLIPS", "Slip", "SlipSort", "all_slips", "is_right_too"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One wrong setting of one lab."""

    sort: str
    """The id of its sort."""
    role: str
    """Where it is made, in words that hold for every lab of a sitting."""
    cell: CellRef
    """Of a row that is wrong.missing, the section's id stands for the question."""
    value: Any
    """None: the row is missing."""

    @property
    def is_missing_row(self) -> bool:
        return self.value is None

    def makes(self, edit: Edit) -> bool:
        """Whether an edit that is kept with a lab is this slip."""
        value = "" if self.is_missing_row else QUESTIONS[self.cell.question].kind.show(self.value)
        return (edit.question, edit.row, edit.value) == (self.cell.question, str(self.cell.row), value)

    @property
    def kind(self) -> SlipKind:
        """What two labs can have in common."""
        return SlipKind(sort=self.sort, role=self.role)

    @property
    def line(self) -> tuple[str, RowKey]:
        """The row that it is made in: its section and what the key calls it."""
        return self.cell.section, self.cell.row


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipSort:
    """A way of setting something wrongly."""

    id: str
    section: Section[Any]
    question: Question[Any, Any] | None
    """None: the whole row is left out."""
    mistakes: frozenset[str]
    """Those of the catalogue one of which must recognise it."""
    values: Values


def all_slips(scenario: Scenario, key: Answers) -> tuple[Slip, ...]:
    """Every slip that can be made in a lab, each network that comes of it once, in the order of the form."""
    plan = Plan(scenario, key, SoFar(scenario, key.values))
    found: dict[tuple[CellRef, Any], Slip] = {}
    for sort in SLIPS:
        for row in (*sort.section.rows(scenario), *sort.section.set_already(scenario)):
            if sort.section is bindings.BINDINGS and plan.value(bindings.BINDING_TYPE_OF, row.key) is not _STATIC:
                continue
            place = sort.section.id if sort.question is None else sort.question.id
            right = None if sort.question is None else plan.value(sort.question, row.key)
            for value in sort.values(plan, row.key):
                cell = CellRef(place, row.key)
                if value is None or value != right:
                    slip = Slip(sort=sort.id, role=_role(scenario, row.key), cell=cell, value=value)
                    found.setdefault((cell, value), slip)
    return tuple(found.values())


_STATIC = BindingType.STATIC


def is_right_too(scenario: Scenario, slip: Slip) -> bool:
    """Whether what is set is right as well, by the rules of the Brief, where nothing comes of it: a route that is wider than it
    has to be, where summary routes are right.
    """
    is_wider = slip.cell.question == routes.ROUTE_MASK_OF.id and slip.sort == "routes-mask-short"
    return is_wider and scenario.rules.route_rule is not RouteRule.ONE_A_NETWORK


# --- Where in the lab -------------------------------------------------------------------------------------------------


def _role(scenario: Scenario, row: RowKey) -> str:
    """Home is the server's switch."""
    if isinstance(row, VlanRow):
        return _of_vlan(scenario, scenario.vlan_by_id[row.vlan])
    if isinstance(row, LinkRow):
        return "link"
    if isinstance(row, PortRow):
        station = next((each for each in scenario.stations if each.at == row.port), None)
        return f"link port, {_side(scenario, row.port.switch)}" if station is None else _of_station(scenario, station)
    if isinstance(row, StationRow):
        return _of_station(scenario, scenario.station_by_name[row.station])
    if isinstance(row, RouteRow):
        assert row.vlan is not None, "a network with faults has no way out"
        return f"{_side(scenario, row.switch)} to {_of_vlan(scenario, scenario.vlan_by_id[row.vlan])}"
    assert isinstance(row, SwitchRow)
    return _side(scenario, row.switch)


def _side(scenario: Scenario, switch: str) -> str:
    return "home" if switch == scenario.server.at.switch else "far"


def _of_vlan(scenario: Scenario, vlan: Vlan) -> str:
    if vlan.id == scenario.server.vlan:
        return "the server's VLAN"
    has = "clients" if scenario.dhcp_stations(vlan.id) else "fixed stations"
    return f"{_side(scenario, vlan.switch)} VLAN with {has}"


def _of_station(scenario: Scenario, station: StationPlan) -> str:
    if station.is_server:
        return "server"
    sort = "client" if station.fixed_number is None else "fixed station"
    return f"{_side(scenario, station.at.switch)} {sort}"


def _sorts(section: Section[Any], *parts: tuple[str, Question[Any, Any] | None, str, Values]) -> Iterator[SlipSort]:
    """parts: id, question, the mistakes with blanks between them, values."""
    for name, question, mistakes, values in parts:
        yield SlipSort(
            id=f"{section.id}-{name}",
            section=section,
            question=question,
            mistakes=frozenset(mistakes.split()),
            values=values,
        )


_MASK, _GATEWAY = subnets.MASK, subnets.GATEWAY
_FIRST, _SECOND = links.FIRST_ADDRESS, links.SECOND_ADDRESS
_USE = ports.PORT_VLAN
_ADDRESS, _OWN_MASK, _OWN_GATEWAY = stations.STATION_ADDRESS, stations.STATION_MASK, stations.STATION_GATEWAY
_DESTINATION, _ROUTE_MASK, _NEXT_HOP = routes.DESTINATION, routes.ROUTE_MASK_OF, routes.NEXT_HOP
_SNOOPED, _TRUSTED, _GUARDED = protection.SNOOPED, protection.TRUSTED, protection.GUARDED


SLIPS: tuple[SlipSort, ...] = (
    *_sorts(
        subnets.SUBNETS,
        ("gateway-other-end", _GATEWAY, "gateway-at-wrong-end", wrong.other_end),
        (
            "gateway-next-block",
            _GATEWAY,
            "gateway-is-link-address gateway-of-other-vlan",
            wrong.next_block(_GATEWAY, wrong.vlan_of_row),
        ),
        ("mask-long", _MASK, "mask-not-of-this-prefix prefix-forgot-reserved-two", wrong.longer(_MASK)),
        ("mask-short", _MASK, "mask-not-of-this-prefix", wrong.shorter(_MASK)),
    ),
    *_sorts(
        links.LINKS,
        ("first-is-network", _FIRST, "p2p30-network-or-broadcast", wrong.network_of_link),
        ("second-is-network", _SECOND, "p2p30-network-or-broadcast", wrong.network_of_link),
        ("first-is-others", _FIRST, "p2p-same-address-both-ends", wrong.others_end(_FIRST)),
        ("second-is-others", _SECOND, "p2p-same-address-both-ends", wrong.others_end(_SECOND)),
    ),
    *_sorts(
        ports.PORTS,
        (
            "other-vlan",
            _USE,
            "station-in-server-vlan server-in-client-vlan vlan-id-of-another-row",
            wrong.other_vlan_here,
        ),
        (
            "vlan-elsewhere",
            _USE,
            "vlan-of-another-switch server-in-client-vlan station-in-server-vlan",
            wrong.vlan_elsewhere,
        ),
        ("routed", _USE, "port-routed-for-switched server-port-without-vlan", wrong.routed),
        ("link-in-vlan", _USE, "link-port-in-a-vlan", wrong.vlan_on_link),
    ),
    *_sorts(
        stations.STATIONS,
        (
            "next-block",
            _ADDRESS,
            "host-address-is-reserved host-address-wrong-subnet host-address-of-another-station host-address-outside-vlans "
            "duplicate-address",
            wrong.next_block(_ADDRESS, wrong.vlan_of_station),
        ),
        ("one-off", _ADDRESS, "host-number-one-too-far", wrong.off_by_one(_ADDRESS, 1)),
        ("mask-long", _OWN_MASK, "mask-covers-half", wrong.longer(_OWN_MASK)),
        ("mask-short", _OWN_MASK, "mask-one-bit-short", wrong.shorter(_OWN_MASK)),
        ("gateway-of-another", _OWN_GATEWAY, "gateway-of-other-vlan", wrong.gateway_of_another),
        ("gateway-is-itself", _OWN_GATEWAY, "gateway-is-host-itself", wrong.own_address),
        ("gateway-other-end", _OWN_GATEWAY, "gateway-not-the-switch", wrong.far_end_of_network),
    ),
    *_sorts(
        routes.ROUTES,
        ("missing", None, "relay-no-return-route route-missing-return route-missing-to-server", wrong.missing),
        (
            "next-block",
            _DESTINATION,
            "route-to-connected-network route-dest-another-network",
            wrong.next_block(_DESTINATION, wrong.vlan_of_row),
        ),
        ("mask-long", _ROUTE_MASK, "route-mask-too-long mask-of-another-network", wrong.longer(_ROUTE_MASK)),
        (
            "mask-short",
            _ROUTE_MASK,
            "route-summary-too-wide mask-of-another-network route-summary-not-asked route-mask-shorter-than-start",
            wrong.shorter(_ROUTE_MASK),
        ),
        ("own-end", _NEXT_HOP, "route-next-hop-own-address", wrong.own_end),
        ("links-network", _NEXT_HOP, "route-next-hop-network-or-broadcast", wrong.links_network),
        ("far-gateway", _NEXT_HOP, "route-next-hop-is-far-gateway", wrong.far_gateway),
    ),
    *_sorts(
        pools.POOLS,
        ("first-low", pools.POOL_FIRST, "scope-start-is-last-kept", wrong.off_by_one(pools.POOL_FIRST, -1)),
        (
            "first-next-block",
            pools.POOL_FIRST,
            "scope-network-of-another-vlan scope-for-wrong-subnet",
            wrong.next_block(pools.POOL_FIRST, wrong.vlan_of_row),
        ),
        ("last-high", pools.POOL_LAST, "scope-end-is-broadcast", wrong.off_by_one(pools.POOL_LAST, 1)),
        ("last-low", pools.POOL_LAST, "scope-leaves-out-last", wrong.off_by_one(pools.POOL_LAST, -1)),
        ("mask-long", pools.POOL_MASK, "scope-mask-covers-half", wrong.longer(pools.POOL_MASK)),
        ("mask-short", pools.POOL_MASK, "mask-one-bit-short", wrong.shorter(pools.POOL_MASK)),
        ("router-of-another", pools.POOL_ROUTER, "gateway-of-other-vlan", wrong.router_of_another),
        ("router-is-server", pools.POOL_ROUTER, "gateway-is-dhcp-server", wrong.router_is_server),
        ("router-other-end", pools.POOL_ROUTER, "gateway-not-the-switch", wrong.other_end),
    ),
    *_sorts(
        relays.RELAYS,
        ("missing", None, "relay-missing-for-vlan", wrong.missing),
        (
            "other-vlan",
            relays.RELAY_VLAN,
            "relay-on-server-vlan relay-vlan-written-twice relay-vlan-without-clients",
            wrong.relay_of_another,
        ),
        ("target-is-gateway", relays.RELAY_TARGET, "relay-target-is-gateway", wrong.target_is_gateway),
        (
            "target-is-servers-gateway",
            relays.RELAY_TARGET,
            "relay-target-is-server-gateway",
            wrong.target_is_servers_gateway,
        ),
        ("target-one-off", relays.RELAY_TARGET, "relay-target-beside-server", wrong.off_by_one(relays.RELAY_TARGET, 1)),
    ),
    *_sorts(
        protection.PROTECTION,
        (
            "snooping-off-in-one",
            _SNOOPED,
            "snoop-vlan-missing snoop-server-vlan-missing snoop-fixed-vlan-missing",
            wrong.without_one(_SNOOPED),
        ),
        ("snooping-off", _SNOOPED, "snoop-enabled-without-vlan", wrong.none_of_them(_SNOOPED)),
        (
            "snooping-too-many",
            _SNOOPED,
            "snoop-vlan-extra snoop-lists-all-vlans snoop-on-switch-without-need",
            wrong.snooped_too,
        ),
        (
            "trust-missing",
            _TRUSTED,
            "trust-nowhere trust-missing-on-server-port trust-missing-on-uplink",
            wrong.without_one(_TRUSTED),
        ),
        ("trust-station", _TRUSTED, "trust-on-client-port", wrong.with_station_port(_TRUSTED)),
        ("trust-link", _TRUSTED, "trust-on-downlink", wrong.with_link_port(_TRUSTED)),
        (
            "guard-missing",
            _GUARDED,
            "guard-missing-on-client-port guard-missing-on-fixed-station",
            wrong.without_one(_GUARDED),
        ),
        ("guard-off", _GUARDED, "guard-nowhere", wrong.none_of_them(_GUARDED)),
        (
            "guard-station",
            _GUARDED,
            "guard-on-server-port guard-on-other-client-port",
            wrong.with_station_port(_GUARDED),
        ),
        ("guard-link", _GUARDED, "guard-on-uplink guard-everywhere", wrong.with_link_port(_GUARDED)),
    ),
    *_sorts(
        bindings.BINDINGS,
        ("missing", None, "guard-without-binding", wrong.missing),
        ("other-port", bindings.BINDING_PORT, "binding-port-other-client", wrong.other_port),
        ("other-vlan", bindings.BINDING_VLAN, "vlan-id-of-another-row", wrong.other_vlan_of_row),
        (
            "other-mac",
            bindings.BINDING_MAC,
            "binding-mac-of-another-host binding-mac-of-switch-or-server",
            wrong.mac_of_another,
        ),
        (
            "one-off",
            bindings.BINDING_ADDRESS,
            "binding-ip-not-as-planned",
            wrong.off_by_one(bindings.BINDING_ADDRESS, 1),
        ),
    ),
)
