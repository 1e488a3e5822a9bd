"""Sheet Ports: what each used port carries."""

from trainer.lab.concepts import Concept
from trainer.lab.form import Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import PORT_USE, ROUTED, PortUse
from trainer.lab.rows import About, PortRow
from trainer.lab.scenario import Scenario
from trainer.network.devices import PortRef

__all__ = ["PORTS", "PORT_VLAN"]


def _port_use(scenario: Scenario, _so_far: SoFar, row: PortRow) -> PortUse:
    return next((station.vlan.number for station in scenario.stations if station.at == row.port), ROUTED)


def _rows(scenario: Scenario) -> tuple[Row[PortRow], ...]:
    plugged = {station.at: station.name for station in scenario.stations}
    for link in scenario.links:
        plugged[link.first] = f"link to {link.second.switch}"
        plugged[link.second] = f"link to {link.first.switch}"
    if scenario.way_out is not None:
        plugged[scenario.way_out.at] = "way out"
    ports = [PortRef(switch.name, port) for switch in scenario.switches for port in scenario.port_names(switch.name)]
    return tuple(Row(PortRow(port), (str(port), plugged[port])) for port in ports)


def _why_so_used(scenario: Scenario, _so_far: SoFar, row: PortRow) -> str:
    station = next((each for each in scenario.stations if each.at == row.port), None)
    if station is not None:
        return f"{station.name} is plugged in, a station of VLAN {station.vlan.number}"
    name = next(name for name, end in scenario.link_ends if end == row.port)
    return f"link {name} is plugged in: a routed port carries no VLAN"


PORT_VLAN = Question(
    id="ports.vlan",
    heading="VLAN or routed",
    kind=PORT_USE,
    role=Role.CONFIGURES,
    answer=_port_use,
    reason=_why_so_used,
    concept=Concept.PORTS,
    how=lambda _: "Look what is plugged in: of a station write its VLAN, of a link the word routed.",
    word="access port: a port that carries the one VLAN of its station",
    may_follow=False,
    is_read_off=True,
)

PORTS = Section(
    id="ports",
    title="Ports",
    asks="the VLAN of each used port, or the word routed",
    about=About.PORT,
    decided_by=(HouseRule.LINKS, HouseRule.PORTS),
    how_to_write="A VLAN number, or the word routed.",
    given=("Port", "Plugged in"),
    questions=(PORT_VLAN,),
    rows=_rows,
)
