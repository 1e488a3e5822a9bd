"""Sheet Relays: where requests are handed on to the server, and what the relay agent writes into them."""

from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import OpenRows, Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, SWITCH, VLAN
from trainer.lab.questions import subnets
from trainer.lab.questions.stations import STATION_ADDRESS
from trainer.lab.rows import About, StationRow, VlanRow
from trainer.lab.scenario import Scenario
from trainer.network.devices import SwitchName

__all__ = ["RELAYS", "RELAY_ADDRESS", "RELAY_SWITCH", "RELAY_TARGET", "RELAY_VLAN"]


def _rows(scenario: Scenario) -> tuple[Row[VlanRow], ...]:
    return tuple(Row(subnets.row_of(vlan.id)) for vlan in scenario.dhcp_vlans if vlan.id != scenario.server.vlan)


def _vlan(_scenario: Scenario, _so_far: SoFar, row: VlanRow) -> int:
    return row.vlan.number


def _switch(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> SwitchName:
    return scenario.vlan_by_id[row.vlan].switch


def _target(scenario: Scenario, so_far: SoFar, _row: VlanRow) -> IPv4Address:
    return so_far.value(STATION_ADDRESS, StationRow(scenario.server.name))


def _giaddr(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> IPv4Address:
    return so_far.value(subnets.GATEWAY, row)


def _why_vlan(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    clients = len(scenario.dhcp_stations(row.vlan))
    asks = f"{clients} stations there ask" if clients > 1 else "1 station there asks"
    return f"{asks} for a lease, and the server is in VLAN {scenario.server.vlan}"


def _why_switch(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    return f"{scenario.vlan_by_id[row.vlan].name}, whose requests are heard there, are on that switch"


def _why_target(scenario: Scenario, _so_far: SoFar, _row: VlanRow) -> str:
    return f"the fixed address of {scenario.server.name}"


def _why_giaddr(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    switch = scenario.vlan_by_id[row.vlan].switch
    return f"the address of switch {switch} in VLAN {row.vlan}, where the request is heard (RFC 1542 4.1.1)"


RELAY_VLAN = Question(
    id="relays.vlan",
    heading="VLAN",
    kind=VLAN,
    role=Role.CONFIGURES,
    answer=_vlan,
    reason=_why_vlan,
    concept=Concept.RELAY,
    how=lambda _: "Take every VLAN with DHCP stations, but not the one in which the server stands.",
    word="relay agent: it hands requests on to a server in another network",
    may_follow=False,
    match_weight=4,
    is_read_off=True,
)
RELAY_SWITCH = Question(
    id="relays.switch",
    heading="Switch",
    kind=SWITCH,
    role=Role.CONFIGURES,
    answer=_switch,
    reason=_why_switch,
    concept=Concept.RELAY,
    how=lambda _: "Write the switch on which that VLAN has its interface.",
    chosen_from=lambda scenario: tuple(switch.name for switch in scenario.switches),
    may_follow=False,
    match_weight=2,
    is_read_off=True,
    asked_where=lambda scenario: scenario.rules.numbers_may_repeat,
)
RELAY_TARGET = Question(
    id="relays.server",
    heading="Server address",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_target,
    reason=_why_target,
    concept=Concept.RELAY,
    how=lambda _: "Copy the fixed address of the DHCP server from sheet Stations.",
)
RELAY_ADDRESS = Question(
    id="relays.giaddr",
    heading="giaddr",
    kind=ADDRESS,
    role=Role.PREDICTS,
    answer=_giaddr,
    reason=_why_giaddr,
    concept=Concept.RELAY,
    how=lambda _: "Write the gateway of that VLAN: there the relay agent hears the client.",
    word="giaddr: the field by which the server knows from which network a request comes",
    match_weight=4,
)

RELAYS = Section(
    id="relays",
    title="Relays",
    asks="the VLAN, the server address and the giaddr of each relay agent",
    about=About.VLAN,
    decided_by=(HouseRule.RELAYS,),
    how_to_write="There are more rows than you need.",
    given=("Row",),
    questions=(RELAY_VLAN, RELAY_TARGET, RELAY_ADDRESS, RELAY_SWITCH),
    rows=_rows,
    open=OpenRows(label="Relay", least=4, printed=lambda scenario: len(scenario.vlans) + 2),
)
