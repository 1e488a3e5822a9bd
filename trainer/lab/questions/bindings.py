"""Sheet Bindings: the binding table when all stations have started."""

from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import OpenRows, Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, BINDING_TYPE, INFINITE, LEASE, MAC, PORT, VLAN, BindingType
from trainer.lab.questions import subnets
from trainer.lab.questions.pools import POOL_FIRST, POOL_LEASE
from trainer.lab.questions.protection import guarded_ports
from trainer.lab.questions.stations import STATION_ADDRESS
from trainer.lab.rows import About, StationRow
from trainer.lab.scenario import Scenario, StationPlan
from trainer.network.addresses import Mac
from trainer.network.devices import PortRef

__all__ = [
    "BINDINGS",
    "BINDING_ADDRESS",
    "BINDING_LEASE",
    "BINDING_MAC",
    "BINDING_PORT",
    "BINDING_TYPE_OF",
    "BINDING_VLAN",
]


def _has_row(scenario: Scenario, station: StationPlan) -> bool:
    """Dynamic: every DHCP station in a snooped VLAN. Static: every fixed station on a guarded port."""
    if station.fixed_number is None:
        return scenario.vlan_by_id[station.vlan].is_snooped
    return station.at in guarded_ports(scenario)


def _rows(scenario: Scenario) -> tuple[Row[StationRow], ...]:
    return tuple(Row(StationRow(each.name)) for each in scenario.stations if _has_row(scenario, each))


def _port(scenario: Scenario, _so_far: SoFar, row: StationRow) -> PortRef:
    return scenario.station_by_name[row.station].at


def _vlan(scenario: Scenario, _so_far: SoFar, row: StationRow) -> int:
    return scenario.station_by_name[row.station].vlan.number


def _mac(scenario: Scenario, _so_far: SoFar, row: StationRow) -> Mac:
    return scenario.station_by_name[row.station].mac


def _address(scenario: Scenario, so_far: SoFar, row: StationRow) -> IPv4Address:
    """A fixed station's own address; else the next free address of the pool when its turn comes (rule Leases)."""
    station = scenario.station_by_name[row.station]
    if station.fixed_number is not None:
        return so_far.value(STATION_ADDRESS, row)
    turn = scenario.turn_of(station)
    return so_far.value(POOL_FIRST, subnets.row_of(station.vlan)) + turn


def _type(scenario: Scenario, _so_far: SoFar, row: StationRow) -> BindingType:
    fixed = scenario.station_by_name[row.station].fixed_number is not None
    return BindingType.STATIC if fixed else BindingType.DYNAMIC


def _lease(scenario: Scenario, so_far: SoFar, row: StationRow) -> int:
    station = scenario.station_by_name[row.station]
    if station.fixed_number is not None:
        return INFINITE
    return so_far.value(POOL_LEASE, subnets.row_of(station.vlan))


def _why_port(_scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"{row.station} is plugged in there"


def _why_vlan(_scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"the VLAN of {row.station}"


def _why_mac(_scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"the MAC of {row.station} in table Stations"


def _why_address(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    if station.fixed_number is not None:
        return "its fixed address"
    turn = scenario.turn_of(station)
    if not turn:
        return f"the first of VLAN {station.vlan} to start: the first address of the pool"
    return f"no. {turn + 1} of VLAN {station.vlan} to start: the first address of the pool + {turn}"


def _why_type(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    if station.fixed_number is not None:
        return "its address is fixed and its port guarded, so the row is entered by hand"
    return "learnt from the server's answer, in a snooped VLAN"


def _why_lease(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    is_fixed = scenario.station_by_name[row.station].fixed_number is not None
    return f"rule {HouseRule.BINDINGS}: static rows: no end" if is_fixed else "as its pool grants"


BINDING_PORT = Question(
    id="bindings.port",
    heading="Port",
    kind=PORT,
    role=Role.CONFIGURES,
    answer=_port,
    reason=_why_port,
    concept=Concept.BINDINGS,
    how=lambda _: (
        "Take every DHCP station in a snooped VLAN and every fixed station on a guarded port, one after the other: its port."
    ),
    word="binding: port, VLAN, MAC and address of a station that the switch knows",
    may_follow=False,
    match_weight=4,
    is_read_off=True,
)
BINDING_VLAN = Question(
    id="bindings.vlan",
    heading="VLAN",
    kind=VLAN,
    role=Role.CONFIGURES,
    answer=_vlan,
    reason=_why_vlan,
    concept=Concept.BINDINGS,
    how=lambda _: "Copy the VLAN of the station from table Stations.",
    may_follow=False,
    is_read_off=True,
)
BINDING_MAC = Question(
    id="bindings.mac",
    heading="MAC",
    kind=MAC,
    role=Role.CONFIGURES,
    answer=_mac,
    reason=_why_mac,
    concept=Concept.BINDINGS,
    how=lambda _: "Copy the MAC of the station from table Stations.",
    may_follow=False,
    match_weight=4,
    is_read_off=True,
)
BINDING_ADDRESS = Question(
    id="bindings.address",
    heading="Address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_address,
    reason=_why_address,
    concept=Concept.BINDINGS,
    how=lambda _: (
        "Of a fixed station its own address. Else the first address of the pool + the number of stations of that VLAN that start "
        "before it."
    ),
    match_weight=4,
)
BINDING_TYPE_OF = Question(
    id="bindings.type",
    heading="Type",
    kind=BINDING_TYPE,
    role=Role.CONFIGURES,
    answer=_type,
    reason=_why_type,
    concept=Concept.BINDINGS,
    how=lambda _: "Write dynamic for what was learnt from a lease, static for a fixed address.",
    may_follow=False,
    is_read_off=True,
)
BINDING_LEASE = Question(
    id="bindings.lease",
    heading="Lease",
    kind=LEASE,
    role=Role.PREDICTS,
    answer=_lease,
    reason=_why_lease,
    concept=Concept.BINDINGS,
    how=lambda _: "Write what the pool grants; of a static row no end.",
    is_read_off=True,
)

BINDINGS = Section(
    id="bindings",
    title="Bindings",
    asks="the binding table when all stations have started",
    about=About.STATION,
    decided_by=(HouseRule.LEASES, HouseRule.BINDINGS),
    how_to_write="There are more rows than you need.",
    given=("Row",),
    questions=(BINDING_PORT, BINDING_VLAN, BINDING_MAC, BINDING_ADDRESS, BINDING_TYPE_OF, BINDING_LEASE),
    rows=_rows,
    open=OpenRows(label="Binding", least=4, printed=lambda scenario: len(scenario.stations) + 3),
)
