"""Sheet Protection: DHCP snooping and source guard, one row a switch. All three are sets."""

from trainer.lab.concepts import Concept
from trainer.lab.form import Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import PORT_SET, VLAN_SET
from trainer.lab.rows import About, SwitchRow
from trainer.lab.scenario import Link, Scenario
from trainer.listing import first_few
from trainer.network.devices import PortName, PortRef

__all__ = ["GUARDED", "PROTECTION", "SNOOPED", "TRUSTED", "guarded_ports", "untrusted_link_ports"]


def _snooped(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> frozenset[int]:
    return frozenset(vlan.number for vlan in scenario.vlans_of(row.switch) if vlan.is_snooped)


def _trusted(scenario: Scenario, so_far: SoFar, row: SwitchRow) -> frozenset[PortName]:
    """The ports on which the server's messages come in, on a switch where any VLAN is snooped."""
    if not _snooped(scenario, so_far, row):
        return frozenset()
    return frozenset(port.port for port in scenario.ports_of_answers if port.switch == row.switch)


def untrusted_link_ports(scenario: Scenario) -> frozenset[PortRef]:
    """The link ports on which no server message comes in, of switches that snoop: they are checked, and not trusted."""
    so_far = SoFar(scenario)
    snooping = {vlan.switch for vlan in scenario.vlans if vlan.is_snooped}
    return frozenset(
        end
        for _, end in scenario.link_ends
        if end.switch in snooping and end.port not in _trusted(scenario, so_far, SwitchRow(end.switch))
    )


def guarded_ports(scenario: Scenario) -> frozenset[PortRef]:
    """The ports of stations whose network is marked for source guard, except the server's."""
    return frozenset(
        station.at
        for station in scenario.stations
        if scenario.vlan_by_id[station.vlan].is_guarded and not station.is_server
    )


def _guarded(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> frozenset[PortName]:
    return frozenset(port.port for port in guarded_ports(scenario) if port.switch == row.switch)


def _why_snooped(_scenario: Scenario, so_far: SoFar, row: SwitchRow) -> str:
    if not so_far.value(SNOOPED, row):
        return f"no VLAN of switch {row.switch} is marked yes under Snooping"
    return f"the VLANs of switch {row.switch} that are marked yes under Snooping"


def _why_trusted(scenario: Scenario, so_far: SoFar, row: SwitchRow) -> str:
    if not so_far.value(SNOOPED, row):
        return f"rule {HouseRule.SNOOPING}: no VLAN is snooped here, so nothing is checked"
    trusted = [PortRef(row.switch, port) for port in _in_order(so_far.value(TRUSTED, row))]
    if not trusted:
        return "no message of the DHCP server comes in here"
    return f"messages of the DHCP server come in from {' and from '.join(_plugged(scenario, port) for port in trusted)}"


def _plugged(scenario: Scenario, port: PortRef) -> str:
    link = next((link for link in scenario.links if port in (link.first, link.second)), None)
    if link is None:
        return f"the server itself at {port}"
    return f"switch {_other_end(link, port).switch} at {port}"


def _other_end(link: Link, port: PortRef) -> PortRef:
    return link.second if link.first == port else link.first


def _in_order(names: frozenset[PortName]) -> list[PortName]:
    return sorted(names, key=int)


def _why_guarded(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> str:
    guarded = guarded_ports(scenario)
    names = [station.name for station in scenario.stations if station.at in guarded and station.at.switch == row.switch]
    if not names:
        return f"no station of switch {row.switch} is in a network marked yes under Source guard"
    return f"{first_few(names, 3)}: in networks marked yes under Source guard"


SNOOPED = Question(
    id="protection.snooped",
    heading="Snooped VLANs",
    kind=VLAN_SET,
    role=Role.CONFIGURES,
    answer=_snooped,
    reason=_why_snooped,
    concept=Concept.SNOOPING,
    how=lambda _: "In table Networks look for the VLANs of this switch that are marked yes under Snooping.",
    word="snooping: the switch listens to DHCP and drops what a rogue server sends",
    may_follow=False,
    is_read_off=True,
)
TRUSTED = Question(
    id="protection.trusted",
    heading="Trusted ports",
    kind=PORT_SET,
    role=Role.CONFIGURES,
    answer=_trusted,
    reason=_why_trusted,
    concept=Concept.SNOOPING,
    how=lambda _: (
        "Follow what the server sends to every VLAN with clients, and to their relay agents: write the ports of this switch at "
        "which it comes in. A switch without a snooped VLAN trusts none."
    ),
    word="trusted port: a port at which a server may be heard",
    may_follow=False,
)
GUARDED = Question(
    id="protection.guarded",
    heading="Guarded ports",
    kind=PORT_SET,
    role=Role.CONFIGURES,
    answer=_guarded,
    reason=_why_guarded,
    concept=Concept.GUARD,
    how=lambda _: (
        "Write the ports of this switch's stations whose network is marked yes under Source guard, but not the server's."
    ),
    word="source guard: only what stands in the binding table gets in",
    may_follow=False,
    is_read_off=True,
)

PROTECTION = Section(
    id="protection",
    title="Protection",
    asks="snooped VLANs, trusted ports and guarded ports of each switch",
    about=About.SWITCH,
    decided_by=(HouseRule.SNOOPING, HouseRule.GUARD),
    how_to_write="Lists in any order, port numbers without the letter: 3, 5. Nothing to list: none.",
    given=("Switch", "Place"),
    questions=(SNOOPED, TRUSTED, GUARDED),
    rows=lambda scenario: tuple(
        Row(SwitchRow(switch.name), (switch.name, switch.place)) for switch in scenario.switches
    ),
)
