"""Sheet Protection: DHCP snooping and source guard, one row a switch (rules 12 and 13). All three are sets."""

from trainer.lab.form import Question, Role, Row, RowKey, Section, SoFar
from trainer.lab.kinds import PORT_SET, VLAN_SET
from trainer.lab.scenario import Scenario
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = ["GUARDED", "PROTECTION", "SNOOPED", "TRUSTED", "guarded_ports", "untrusted_link_ports"]


def _snooped(scenario: Scenario, _so_far: SoFar, row: RowKey) -> frozenset[int]:
    switch = SwitchName(row)
    return frozenset(vlan.number for vlan in scenario.vlans if vlan.switch == switch and vlan.is_snooped)


def _trusted(scenario: Scenario, so_far: SoFar, row: RowKey) -> frozenset[PortName]:
    """The ports on which the server's messages come in, on a switch where any VLAN is snooped."""
    if not _snooped(scenario, so_far, row):
        return frozenset()
    server = scenario.server
    home = SwitchName(server.at.switch)
    entered: set[PortRef] = set()
    for vlan in scenario.dhcp_vlans:
        entered.add(server.at)
        entered.update(scenario.ports_entered(home, vlan.switch))
    return frozenset(port.port for port in entered if port.switch == SwitchName(row))


def untrusted_link_ports(scenario: Scenario) -> frozenset[PortRef]:
    """The link ports on which no server message comes in, of switches that snoop: they are checked, and not trusted."""
    so_far = SoFar(scenario)
    snooping = {vlan.switch for vlan in scenario.vlans if vlan.is_snooped}
    return frozenset(
        end
        for link in scenario.links
        for end in (link.first, link.second)
        if end.switch in snooping and end.port not in _trusted(scenario, so_far, RowKey(end.switch))
    )


def guarded_ports(scenario: Scenario) -> frozenset[PortRef]:
    """The ports of stations whose network is marked for source guard, except the server's."""
    return frozenset(
        station.at
        for station in scenario.stations
        if scenario.vlan_by_number[station.vlan].is_guarded and not station.is_server
    )


def _guarded(scenario: Scenario, _so_far: SoFar, row: RowKey) -> frozenset[PortName]:
    return frozenset(port.port for port in guarded_ports(scenario) if port.switch == SwitchName(row))


SNOOPED = Question(
    id="protection.snooped",
    heading="Snooped VLANs",
    kind=VLAN_SET,
    role=Role.CONFIGURES,
    answer=_snooped,
    may_follow=False,
)
TRUSTED = Question(
    id="protection.trusted",
    heading="Trusted ports",
    kind=PORT_SET,
    role=Role.CONFIGURES,
    answer=_trusted,
    may_follow=False,
)
GUARDED = Question(
    id="protection.guarded",
    heading="Guarded ports",
    kind=PORT_SET,
    role=Role.CONFIGURES,
    answer=_guarded,
    may_follow=False,
)

PROTECTION = Section(
    id="protection",
    title="Protection",
    asks="snooped VLANs, trusted ports and guarded ports of each switch",
    note="Rules 12 and 13. Lists in any order, port numbers without the letter: 3, 5. Nothing to list: none.",
    given=("Switch", "Place"),
    questions=(SNOOPED, TRUSTED, GUARDED),
    rows=lambda scenario: tuple(Row(RowKey(switch.name), (switch.name, switch.place)) for switch in scenario.switches),
)
