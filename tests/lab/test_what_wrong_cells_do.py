"""What wrong cells do to an otherwise right network, in the labs that have a place for them: what may be said of them.

The faults are those that tests/kernel tries in real networks as well.
"""

from collections.abc import Iterator

import pytest
from damages import NotHere, damaged
from kernel_labs import drawn_labs, exercise_labs
from on_request import many

from trainer.lab.build import build
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind, Tried, try_network
from trainer.network.packets import Dropped, Reason

LABS = {**exercise_labs(), **drawn_labs()}


@pytest.fixture(params=many(("in some labs", "in every lab"), ("in some labs",)))
def labs(request: pytest.FixtureRequest) -> list[Scenario]:
    return list(LABS.values())[:: 5 if request.param == "in some labs" else 1]


def places_for(fault: str, labs: list[Scenario]) -> Iterator[tuple[Scenario, Answers]]:
    """Those of the labs that have a place for the fault, and their answers with it."""
    for lab in labs:
        try:
            answers = damaged(lab, fault)
        except NotHere:
            continue
        if build(lab, answers).network != build(lab, derive_key(lab)).network:
            yield lab, answers


def failed(lab: Scenario, answers: Answers) -> list[Tried]:
    return [each for each in try_network(lab, build(lab, answers).network, (), with_controls=False)[1] if each.fails]


def clients(lab: Scenario) -> set[str]:
    return {station.name for station in lab.stations if station.fixed_number is None}


def without_lease(tried: list[Tried]) -> set[str]:
    return {each.source for each in tried if each.kind is TrialKind.LEASE}


def reasons(tried: list[Tried]) -> set[Reason]:
    return {each.outcome.reason for each in tried if isinstance(each.outcome, Dropped)}


@pytest.mark.parametrize(
    "fault",
    [
        pytest.param("binding_row_for_the_server", id="a row for the server, whose port is not guarded"),
        pytest.param(
            "guard_on_the_servers_port_with_a_row", id="guard on the server's port, with a row for the server"
        ),
        pytest.param("pool_turned_round", id="a pool whose ends are exchanged: it is turned round"),
        pytest.param("pool_hands_out_a_fixed_address", id="a pool that begins at a fixed station: it is passed over"),
        pytest.param("two_routes_over_two_neighbours", id="a rival route behind the right one: the first is kept"),
    ],
)
def test_nothing_fails(fault, labs):
    places = list(places_for(fault, labs))
    assert len(places) >= 3
    for lab, answers in places:
        assert failed(lab, answers) == []


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        pytest.param(
            "guard_on_the_servers_port", Reason.SOURCE_NOT_BOUND, id="guard on the server's port, without a row"
        ),
        pytest.param("pool_goes_past_its_network", Reason.SERVER_REFUSES, id="a pool that goes past its network"),
    ],
)
def test_no_client_gets_a_lease(fault, reason, labs):
    places = [(lab, answers) for lab, answers in places_for(fault, labs) if clients(lab)]
    assert len(places) >= 3
    for lab, answers in places:
        tried = failed(lab, answers)
        assert without_lease(tried) == clients(lab)
        assert reasons([each for each in tried if each.kind is TrialKind.LEASE]) == {reason}


@pytest.mark.parametrize(
    "fault", ["relay_missing", "gateway_at_a_loopback_address", "relay_target_at_a_loopback_address"]
)
def test_the_clients_of_one_vlan_get_no_lease(fault, labs):
    places = list(places_for(fault, labs))
    assert len(places) >= 3
    for lab, answers in places:
        missing = without_lease(failed(lab, answers))
        assert missing
        assert len({lab.station_by_name[name].vlan for name in missing}) == 1


@pytest.mark.parametrize(
    "fault",
    [
        pytest.param("binding_row_with_another_address", id="a static row with another address"),
        pytest.param("station_at_another_stations_address", id="the address of a station of another VLAN"),
        pytest.param("station_at_a_loopback_address", id="an address that no device may have, 127"),
        pytest.param("station_at_a_multicast_address", id="an address that no device may have, 224"),
    ],
)
def test_one_station_alone_fails(fault, labs):
    """Every ping that fails is from it or to it, and none of its pings is answered."""
    places = list(places_for(fault, labs))
    assert len(places) >= 3
    for lab, answers in places:
        tried = failed(lab, answers)
        pings = [{each.source, each.target} for each in tried if each.kind is TrialKind.PING]
        assert len(set.intersection(*pings)) == 1
        others = len(lab.stations) - 1 + (lab.way_out is not None)  # the test address outside
        assert len(pings) == 2 * others
        assert not without_lease(tried)
