"""Sheet Stations: address, mask and gateway of the stations with a fixed address, the DHCP server among them."""

from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import Question, Role, Row, Section, SoFar, Unique
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, MASK
from trainer.lab.plan import is_inside_block
from trainer.lab.questions import subnets
from trainer.lab.rows import About, StationRow
from trainer.lab.scenario import Scenario
from trainer.network.addresses import usable_address

__all__ = ["STATIONS", "STATION_ADDRESS", "STATION_GATEWAY", "STATION_MASK"]


def _address(scenario: Scenario, so_far: SoFar, row: StationRow) -> IPv4Address:
    station = scenario.station_by_name[row.station]
    assert station.fixed_number is not None, "this sheet has rows for fixed stations only"
    return usable_address(subnets.network_of(so_far, station.vlan), station.fixed_number)


def _mask(scenario: Scenario, so_far: SoFar, row: StationRow) -> int:
    return so_far.value(subnets.MASK, subnets.row_of(scenario.station_by_name[row.station].vlan))


def _gateway(scenario: Scenario, so_far: SoFar, row: StationRow) -> IPv4Address:
    return so_far.value(subnets.GATEWAY, subnets.row_of(scenario.station_by_name[row.station].vlan))


def _why_address(scenario: Scenario, so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    return f"usable address no. {station.fixed_number} of {subnets.network_of(so_far, station.vlan)}"


def _why_mask(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"as VLAN {scenario.station_by_name[row.station].vlan}'s interface has it"


def _why_gateway(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"the gateway of VLAN {scenario.station_by_name[row.station].vlan}: the VLAN interface of its switch"


def _is_station_itself(_scenario: Scenario, so_far: SoFar, row: StationRow, gateway: IPv4Address) -> str:
    if gateway != so_far.value(STATION_ADDRESS, row):
        return ""
    return "By those, station and gateway have one address, which cannot be: see sheet Subnets."


STATION_ADDRESS = Question(
    id="stations.address",
    heading="Address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_address,
    reason=_why_address,
    concept=Concept.FIXED,
    how=lambda _: "Count the usable addresses from the lowest: no. n is network address + n.",
    is_usable=is_inside_block,
    worked_out_from=lambda scenario, row: scenario.station_by_name[row.station].vlan,
    must_differ=Unique.DEVICE_ADDRESS,
)
STATION_MASK = Question(
    id="stations.mask",
    heading="Mask",
    kind=MASK,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.FIXED,
    how=lambda _: "Copy the mask of the station's VLAN from sheet Subnets.",
    is_usable=subnets.is_network_length,
    given_to_copy=subnets.block_length,
    is_read_off=True,
)
STATION_GATEWAY = Question(
    id="stations.gateway",
    heading="Gateway",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_gateway,
    reason=_why_gateway,
    concept=Concept.GATEWAY,
    how=lambda _: "Copy the gateway of the station's VLAN from sheet Subnets.",
    is_usable=is_inside_block,
    contradiction=_is_station_itself,
)

STATIONS = Section(
    id="stations",
    title="Stations",
    asks="address, mask and gateway of each station with a fixed address",
    about=About.STATION,
    decided_by=(HouseRule.FIXED,),
    decides="the stations with a fixed address",
    given=("Station", "Port"),
    questions=(STATION_ADDRESS, STATION_MASK, STATION_GATEWAY),
    rows=lambda scenario: tuple(
        Row(StationRow(station.name), (station.name, str(station.at)))
        for station in scenario.stations
        if station.fixed_number is not None
    ),
)
