"""A filled form seen as a plan: what the trainee wrote, what follows from it, and the same with one cell right."""

from ipaddress import IPv4Address
from typing import Any

import pytest
from catalogue_labs import LAB, Text, wrong_cell

from trainer.lab.form import RowKey
from trainer.marking.plan_view import PlanView, PortRole
from trainer.network.devices import PortName, PortRef, SwitchName

FERRIES, CRANES = 2, 3
"""Places of two VLANs of the lab in its table Networks."""


def plan(also: dict[Any, Text] | None = None) -> PlanView:
    """Of a form that is right but for these cells."""
    return wrong_cell(LAB, "pools.lease", CRANES, "1 h", also).plan


def number(place: int) -> int:
    return LAB.vlans[place].number


def test_networks_and_gateways_are_the_trainees_where_they_can_be_used():
    moved = plan({("subnets.network", CRANES): LAB.at(FERRIES, 0), ("subnets.gateway", CRANES): LAB.at(CRANES, 7)})
    assert moved.networks[number(CRANES)].network_address == LAB.net(FERRIES).network_address
    assert moved.gateways[number(CRANES)] == LAB.net(CRANES)[7]
    assert moved.networks[number(FERRIES)] == LAB.net(FERRIES)


def test_what_cannot_be_used_is_planned_all_the_same():
    outside = plan({("subnets.network", CRANES): "203.0.113.0"})
    assert outside.networks[number(CRANES)] == LAB.net(CRANES)
    assert outside.planned_networks[number(CRANES)].network_address == IPv4Address("203.0.113.0")


def test_a_network_that_was_not_written_is_none_of_the_trainees():
    row = RowKey(str(number(CRANES)))
    assert row in plan().written_networks
    assert row not in plan({("subnets.network", CRANES): ""}).written_networks


@pytest.mark.parametrize("question", ["subnets.network", "subnets.gateway"])
def test_a_cell_is_compared_with_the_plan_in_which_it_is_right(question: str):
    cell = wrong_cell(LAB, question, CRANES, LAB.at(FERRIES, 0))
    seen = (cell.network, cell.gateway)
    assert seen == (LAB.net(CRANES), IPv4Address(LAB.gateway(CRANES)))
    as_it_is = (cell.plan.networks[number(CRANES)], cell.plan.gateways[number(CRANES)])
    assert as_it_is != seen


def test_other_networks_are_all_but_the_rows_own():
    cell = wrong_cell(LAB, "subnets.network", CRANES, LAB.at(FERRIES, 0))
    assert LAB.net(FERRIES) in cell.other_networks
    assert len(cell.other_networks) == len(LAB.vlans) + len(LAB.scenario.links) - 1


@pytest.mark.parametrize(
    ("port", "role"),
    [
        (LAB.port("server"), PortRole.SERVER),
        (LAB.port((CRANES, 0)), PortRole.STATION),
        (LAB.port(("B", "A")), PortRole.UPLINK),
        (LAB.port(("A", "B")), PortRole.DOWNLINK),
        ("B/99", PortRole.UNUSED),
    ],
)
def test_a_port_has_a_role_seen_from_the_server(port: str, role: PortRole):
    switch, _, name = port.partition("/")
    ref = PortRef(SwitchName(switch), PortName(name))
    assert plan().port_role(ref) is role
    assert plan().is_link_port(ref) is (role in (PortRole.UPLINK, PortRole.DOWNLINK))


def test_no_pool_hands_anything_out_where_nobody_asks():
    (without,) = {vlan.number for vlan in LAB.vlans if not LAB.scenario.dhcp_stations(vlan.id)} & {number(4)}
    assert len(plan().pool(without)) == 0
    assert len(plan().pool(number(CRANES))) > 0
