"""Sheet Ports: what each used port carries."""

from trainer.lab.concepts import Concept
from trainer.lab.form import About, Question, Role, Row, RowKey, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import PORT_USE, ROUTED, PortUse
from trainer.lab.scenario import Scenario

__all__ = ["PORTS", "PORT_VLAN"]


def _port_use(scenario: Scenario, _so_far: SoFar, row: RowKey) -> PortUse:
    return next((station.vlan for station in scenario.stations if str(station.at) == row), ROUTED)


def _rows(scenario: Scenario) -> tuple[Row, ...]:
    plugged = {str(station.at): station.name for station in scenario.stations}
    for link in scenario.links:
        plugged[str(link.first)] = f"link to {link.second.switch}"
        plugged[str(link.second)] = f"link to {link.first.switch}"
    labels = [f"{switch.name}/{port}" for switch in scenario.switches for port in scenario.port_names(switch.name)]
    return tuple(Row(RowKey(label), (label, plugged[label])) for label in labels)


def _why_so_used(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    station = next((each for each in scenario.stations if str(each.at) == row), None)
    if station is not None:
        return f"{station.name} is plugged in, a station of VLAN {station.vlan}"
    link = next(link for link in scenario.links if row in (str(link.first), str(link.second)))
    return f"link {link.name} is plugged in: a routed port carries no VLAN"


PORT_VLAN = Question(
    id="ports.vlan",
    heading="VLAN or routed",
    kind=PORT_USE,
    role=Role.CONFIGURES,
    answer=_port_use,
    reason=_why_so_used,
    concept=Concept.PORTS,
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
