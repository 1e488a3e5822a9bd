"""The answer key as a page for the bench: what to set on each switch first, then every value with its reason, then the proof."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeVar

from trainer.lab.bench import ORDER_OF_WORK
from trainer.lab.brief import given_tables, otherwise_at_work
from trainer.lab.form import Answers, CellRef, Question, Row, Section, SoFar
from trainer.lab.kinds import BindingType
from trainer.lab.proof import Proof
from trainer.lab.questions import bindings, form_of, links, pools, protection, relays, routes, stations, subnets
from trainer.lab.questions.links import address_question
from trainer.lab.rows import LinkRow, RowKey, StationRow, SwitchRow
from trainer.lab.scenario import Scenario, SwitchPlan
from trainer.lab.trials import TrialKind, not_tried
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import DEFAULT_ROUTE
from trainer.pages import blocks
from trainer.pages.blocks import Block, Document, Figure, Notice, Paragraph, Strong, Table
from trainer.pages.drawing import draw_topology
from trainer.pages.given import as_table, found_sections
from trainer.pages.repair import repair_sections

__all__ = ["key_document"]

R = TypeVar("R", bound=RowKey)


def key_document(scenario: Scenario, key: Answers, proof: Proof) -> Document:
    """All sections, asked or not, because the bench needs them all. Of a fault-finding lab the faults and the way to them first,
    and what to set on screen alone.
    """
    trainee, is_about_faults = scenario.trainee, scenario.repair is not None
    facts = [("Lab number", scenario.lab_number), ("Trainee", trainee.called)]
    facts += [("Attempt", str(trainee.attempt))] if trainee.attempt > 1 else []
    return Document(
        title=f"ANSWER KEY {scenario.exercise_code} {scenario.lab_number}",
        heading="ANSWER KEY",
        over=f"{scenario.exercise_code} - {scenario.title}",
        facts=(*facts, ("Block", str(scenario.block))),
        blocks=(
            *repair_sections(scenario),
            blocks.Section(title="At the bench", blocks=tuple(_before_work())),
            blocks.Section(title=_drawn(scenario), blocks=(Figure(draw_topology(scenario, key)),)),
            blocks.Section(title="What to set", blocks=tuple(_summary(scenario, key)), is_for_screen=is_about_faults),
            blocks.Section(
                title="Given", blocks=tuple(as_table(table) for table in given_tables(scenario)), is_for_screen=True
            ),
            blocks.Section(title="Right answers, and why", blocks=tuple(_answers(scenario, key)), on_new_page=True),
            *found_sections(scenario, key, is_for_screen=True),
            _sources(scenario),
            _proof(scenario, proof),
        ),
        foot="At the bench: isolated lab only, no DHCP server but the planned one; keep a console. Mains and racks: local "
        "rules, licensed persons.",
        running=f"ANSWER KEY {scenario.lab_number}   {trainee.id}   {scenario.exercise_code}",
        is_wide=True,
    )


def _drawn(scenario: Scenario) -> str:
    return "Drawing" if scenario.repair is None else "Drawing, as planned"


# --- What to set ------------------------------------------------------------------------------------------------------


class _Shown:
    """The key's values as text."""

    def __init__(self, key: Answers) -> None:
        self._values: Mapping[CellRef, Any] = key.values

    def __call__(self, question: Question[Any, R], row: R) -> str:
        return question.kind.show(self._values[CellRef(question.id, row)])


def _before_work() -> Iterator[Block]:
    """The caution first, then the safe order."""
    yield Notice(
        (
            Strong("Caution. "),
            "Isolated lab only, no DHCP server but the planned one; keep a console. Mains and racks: local rules, "
            "licensed persons.",
        )
    )
    steps = "; ".join(f"{number} {step}" for number, step in enumerate(ORDER_OF_WORK, 1))
    yield Paragraph((Strong("Safe order, "), f"with everything saved before each stage: {steps}."))


def _summary(scenario: Scenario, key: Answers) -> Iterator[Block]:
    shown = _Shown(key)
    for switch in scenario.switches:
        yield Table(
            title=f"Switch {switch.name} ({switch.place})",
            headings=("Set", "Value"),
            rows=tuple((_words(what), _words(value)) for what, value in _settings(scenario, key, shown, switch)),
            unbroken=frozenset({0}),
        )
    fixed = [station for station in scenario.stations if station.fixed_number is not None]
    rows: tuple[tuple[blocks.Words, ...], ...] = tuple(
        (
            _words(station.name),
            *(_words(shown(question, StationRow(station.name))) for question in stations.STATIONS.questions),
        )
        for station in fixed
    )
    headings = ("Station", *(question.heading for question in stations.STATIONS.questions))
    yield Table(title="Stations with a fixed address", headings=headings, rows=rows, codes=frozenset({1, 2, 3}))
    pool_rows = tuple(
        (
            _words(f"{vlan.id} ({vlan.name})"),
            *(_words(shown(each, subnets.row_of(vlan.id))) for each in pools.POOLS.questions_in(scenario)),
        )
        for vlan in scenario.dhcp_vlans
    )
    headings = ("VLAN", *(question.heading for question in pools.POOLS.questions_in(scenario)))
    title = f"Pools ({scenario.server.name})"
    yield Table(title=title, headings=headings, rows=pool_rows, codes=frozenset({1, 2, 3, 4}))


def _settings(scenario: Scenario, key: Answers, shown: _Shown, switch: SwitchPlan) -> Iterator[tuple[str, str]]:
    """What is set on a switch, in the order in which it is set."""
    so_far = SoFar(scenario, key.values)
    for vlan in scenario.vlans:
        if vlan.switch == switch.name:
            members = [station.at.port for station in scenario.stations if station.vlan == vlan.id]
            length = subnets.network_of(so_far, vlan.id).prefixlen
            address = shown(subnets.GATEWAY, subnets.row_of(vlan.id))
            yield f"VLAN {vlan.number} ({vlan.name})", f"interface {address}/{length}; {_ports(members)}"
    for link in scenario.links:
        if switch.name in (link.first.switch, link.second.switch):
            length = links.network_of(so_far, LinkRow(link.name)).prefixlen
            address = shown(address_question(link, switch.name), LinkRow(link.name))
            yield f"Routed port {link.end_at(switch.name).port} (link {link.name})", f"{address}/{length}"
    out = scenario.way_out
    if out is not None and out.at.switch == switch.name:
        yield f"Routed port {out.at.port} (way out), set already", f"{out.address}/{out.network.prefixlen}"
        yield "Route to nowhere, set already", str(scenario.block)
    yield from _routes(scenario, so_far, shown, switch)
    relayed = [
        row.key for row in relays.RELAYS.rows(scenario) if scenario.vlan_by_id[row.key.vlan].switch == switch.name
    ]
    for target in dict.fromkeys(shown(relays.RELAY_TARGET, row) for row in relayed):
        vlans = [str(row.vlan.number) for row in relayed if shown(relays.RELAY_TARGET, row) == target]
        yield f"Relay agent in {_vlans(vlans)}", f"to {target}"
    here = SwitchRow(switch.name)
    yield "Trusted ports", shown(protection.TRUSTED, here)
    for row in bindings.BINDINGS.rows(scenario):
        at = scenario.station_by_name[row.key.station].at
        is_static = key.get(bindings.BINDING_TYPE_OF, row.key) is BindingType.STATIC
        if at.switch == switch.name and is_static:
            mac, address = shown(bindings.BINDING_MAC, row.key), shown(bindings.BINDING_ADDRESS, row.key)
            yield (
                f"Static binding row, port {at.port}",
                f"VLAN {shown(bindings.BINDING_VLAN, row.key)}, {mac}, {address}",
            )
    yield "Snooped VLANs", shown(protection.SNOOPED, here)
    yield "Guarded ports", shown(protection.GUARDED, here)


def _routes(scenario: Scenario, so_far: SoFar, shown: _Shown, switch: SwitchPlan) -> Iterator[tuple[str, str]]:
    """The routes of a switch, those over one neighbour together."""
    over: dict[str, list[VlanId | None]] = {}
    for row in (*routes.ROUTES.rows(scenario), *routes.ROUTES.set_already(scenario)):
        if row.key.switch == switch.name:
            over.setdefault(shown(routes.NEXT_HOP, row.key), []).append(row.key.vlan)
    for next_hop, vlans in over.items():
        networks = ", ".join(
            f"{DEFAULT_ROUTE} (outside)" if vlan is None else f"{subnets.network_of(so_far, vlan)} (VLAN {vlan})"
            for vlan in vlans
        )
        yield f"Route{'s' if len(vlans) > 1 else ''} via {next_hop}", networks


def _vlans(numbers: Sequence[str]) -> str:
    return f"VLAN{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def _ports(names: list[Any]) -> str:
    """The access ports of a VLAN on its switch."""
    if not names:
        return "no access port"
    return f"access port{'s' if len(names) > 1 else ''} {', '.join(sorted(names, key=int))}"


# --- Right answers ----------------------------------------------------------------------------------------------------


def _answers(scenario: Scenario, key: Answers) -> Iterator[Block]:
    """The key's sections; rows that are set already stand behind those that are asked."""
    so_far = SoFar(scenario, key.values)
    shown = _Shown(key)
    for section in form_of(scenario):
        already = section.set_already(scenario)
        rows = (*section.rows(scenario), *already)
        if rows:
            yield Table(
                title=section.title,
                headings=("Row", "Question", "Right", "Why"),
                rows=tuple(
                    (
                        _words(_label(section, row, is_set=row in already) if not place else ""),
                        _words(question.heading),
                        _words(shown(question, row.key)),
                        _words(question.reason(scenario, so_far, row.key)),
                    )
                    for row in rows
                    for place, question in enumerate(section.questions_in(scenario))
                ),
                codes=frozenset({2}),
                unbroken=frozenset({0, 1}),
            )


def _label(section: Section[Any], row: Row[Any], *, is_set: bool) -> str:
    """What a row is about: its first two printed cells, or what the key calls it; and whether it is not asked for."""
    return (" - ".join(row.given[:2]) if section.open is None else row.key) + (", set already" if is_set else "")


# --- Proof ------------------------------------------------------------------------------------------------------------


def _proof(scenario: Scenario, proof: Proof) -> blocks.Section:
    rows = []
    for kind in TrialKind:
        trials = [trial for trial in proof.trials if trial.kind is kind]
        if trials:
            seen, controls = trials[0].seen, trials[0].control
            rows.append((_words(kind.value), _words(str(len(trials))), _words(seen), _words(controls or "not needed")))
    summary = Table(
        title="Trials by kind",
        headings=("Trial", "How many", "What was seen, the first of them", "The same with the protection off"),
        rows=tuple(rows),
        numbers=frozenset({1}),
        unbroken=frozenset({0}),
    )
    left_out = Table(
        title="Not tried",
        headings=("What was not tried", "Why"),
        rows=tuple((_words(what), _words(why)) for what, why in not_tried(scenario)),
    )
    every = Table(
        title="Every trial",
        headings=("Trial", "What was tried", "What was seen", "With the protection off"),
        rows=tuple(
            (_words(trial.kind.value), _words(trial.subject), _words(trial.seen), _words(trial.control))
            for trial in proof.trials
        ),
    )
    words = (
        f"The network of this key was built and tried by {len(proof.trials)} trials; every one went as wanted. A protective "
        "trial counts only because the same packet gets through with that protection off."
    )
    return blocks.Section(
        title="Proof",
        blocks=(
            Paragraph((words,)),
            summary,
            left_out,
            blocks.Section(title="Trial by trial", blocks=(every,), is_for_screen=True),
        ),
    )


def _sources(scenario: Scenario) -> blocks.Section:
    """Where the advice comes from that the Brief gives without its sources."""
    table = Table(
        title="At work it may be otherwise",
        headings=("Rule", "What the Brief says", "Where it is from"),
        rows=tuple(tuple(map(_words, line)) for line in otherwise_at_work(scenario)),
        unbroken=frozenset({0}),
        shows_title=False,
    )
    return blocks.Section(title="At work it may be otherwise: sources", blocks=(table,), is_for_screen=True)


def _words(text: str) -> blocks.Words:
    return (text,) if text else ()
