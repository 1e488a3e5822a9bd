"""What a wrong cell does, tried on the network: with all the trainee's answers, with this cell put right, and with this
cell alone wrong in a right network. What is said of it is what was seen.

Cells that configure no device are not tried. Blank cells of one row are tried together, and so is a missing or an extra
row; a sheet on which nothing stands is tried as one.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef, Role, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, subnets
from trainer.lab.scenario import Scenario
from trainer.lab.trials import Site, TrialKind, TrialName, Tried, Visitor, retraced, try_network, visitors
from trainer.marking.mistakes.mistake import Lapse, WrongCell
from trainer.network.devices import Network, Part, Station
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import render

__all__ = ["Experiment", "Laboratory", "size_of", "told"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Experiment:
    """What was seen when one cell, or several of one row, were tried."""

    stops: tuple[Tried, ...]
    """What goes wrong in a right network when this alone is wrong in it, as it went there."""
    heals: tuple[Tried, ...]
    """What goes wrong in the trainee's own network and right once this is put right, as it went before."""
    breaks: tuple[Tried, ...]
    """What goes wrong in the trainee's own network only when this is put right, because other values rest on it."""
    altered: tuple[Tried, ...]
    """Leases of the trainee's own network that are granted with this right or wrong, but not the same."""
    altered_in: tuple[str, ...]
    """In what they differ, in the trade's words."""
    masked_by: Dropped | None
    """Where nothing of what it stops is healed: what still stops it once this is right."""


Results = Mapping[TrialName, Tried]


def size_of(scenario: Scenario) -> int:
    """About how many trials one experiment makes, on two networks: pings between stations and to needed addresses."""
    stations = len(scenario.stations)
    return 2 * (stations * (stations - 1) + 2 * len(scenario.vlans) * (len(scenario.switches) + 1))


class Laboratory:
    """A trainee's network, and a right one, to try changes on."""

    def __init__(self, scenario: Scenario, answers: Answers, so_far: SoFar) -> None:
        """answers: what the trainee wrote; so_far: the plan that it makes."""
        self._scenario = scenario
        self._key = derive_key(scenario)
        self._key_so_far = SoFar(scenario, self._key.values)
        self._own = _with_what_is_not_asked(scenario, answers, so_far)
        self._known: dict[tuple[Network, tuple[Visitor, ...]], tuple[Running, Results]] = {}
        self._running, self._own_results = self._tried(self._own)

    def experiment(self, cells: Sequence[WrongCell]) -> Experiment | None:
        """The cells are put right, or made wrong, together. None where no device is configured by them."""
        if not any(cell.question.role is Role.CONFIGURES for cell in cells):
            return None
        _, healed = self._tried(_put_right(self._own, cells))
        _, alone = self._tried(_put_wrong(self._key, cells))
        pairs = [(own, healed[name]) for name, own in self._own_results.items() if name in healed]
        stops = tuple(each for each in alone.values() if each.fails)
        still = (healed[each.name] for each in stops if each.name in healed)
        differences = [(own, words) for own, right in pairs if (words := _differences(own, right))]
        return Experiment(
            stops=stops,
            altered=tuple(own for own, _ in differences),
            altered_in=tuple(dict.fromkeys(word for _, words in differences for word in words)),
            heals=tuple(own for own, right in pairs if own.fails and right.works),
            breaks=tuple(right for own, right in pairs if own.works and right.fails),
            masked_by=next((_why(healed, each) for each in still if each.fails), None),
        )

    def steps(self, experiment: Experiment) -> tuple[str, ...]:
        """One trial that goes wrong because of it in the trainee's own network: what it is, then a line a step."""
        own = (self._own_results.get(each.name) for each in (*experiment.heals, *experiment.stops))
        shown = next((each for each in own if each is not None and each.fails), None)
        if shown is None:
            return ()
        steps = render(retraced(self._scenario, self._running, shown))
        return (f"{_CALLED[shown.kind]}: {shown.subject}", *steps)

    def _tried(self, answers: Answers) -> tuple[Running, Results]:
        plan = SoFar(self._scenario, answers.values, self._key_so_far)
        sites = {vlan.number: _site(plan, vlan.number) for vlan in self._scenario.vlans}
        network = build(self._scenario, answers).network
        guests = tuple(each for each in visitors(self._scenario, sites) if not _is_in_the_way(each[0], sites, network))
        if (network, guests) not in self._known:
            running, tried = try_network(self._scenario, network, guests, with_controls=False)
            self._known[network, guests] = running, {each.name: each for each in tried}
        return self._known[network, guests]


_PARTS_OF_A_LEASE = {
    "address": "address",
    "prefix_length": "mask",
    "router": "router",
    "lease_seconds": "lease time",
    "relay_address": "giaddr",
}


def _differences(one: Tried, other: Tried) -> tuple[str, ...]:
    """In what two leases differ; nothing where one was not granted, or where these are no leases."""
    if not isinstance(one.outcome, Lease) or not isinstance(other.outcome, Lease):
        return ()
    pairs = (
        (word, getattr(one.outcome, part), getattr(other.outcome, part)) for part, word in _PARTS_OF_A_LEASE.items()
    )
    return tuple(word for word, here, there in pairs if here != there)


def _why(results: Results, tried: Tried) -> Dropped | None:
    """What stops it; where a station has no address because it got no lease, what stops the lease."""
    drop = tried.outcome
    if not isinstance(drop, Dropped):
        return None
    lease = results.get((TrialKind.LEASE, drop.at, ""))
    if drop.reason is Reason.NO_ADDRESS and lease is not None and isinstance(lease.outcome, Dropped):
        return lease.outcome
    return drop


def _is_in_the_way(visitor: Station, sites: Mapping[int, Site], network: Network) -> bool:
    """Whether the visitor's address is a gateway's, or one of the first that a pool hands out: it would make a conflict
    that nobody in the lab makes.
    """
    assert visitor.fixed is not None
    address = visitor.fixed.address
    pools = () if network.server is None else network.server.pools
    clients = sum(station.uses_dhcp for station in network.stations)
    return any(site.gateway == address for site in sites.values()) or any(
        int(pool.first) <= int(address) < int(pool.first) + clients for pool in pools
    )


def _site(plan: SoFar, vlan: int) -> Site:
    return Site(subnets.network_of(plan, vlan), plan.value(subnets.GATEWAY, subnets.row_of(vlan)))


def _with_what_is_not_asked(scenario: Scenario, answers: Answers, so_far: SoFar) -> Answers:
    """What the trainee wrote, the values so far on sheets that are not asked, and the rows that are set already."""
    values, rows = dict(answers.values), dict(answers.rows)
    for section in FORM:
        asked = section.id in scenario.asked
        added = section.set_already(scenario) if asked else (*section.rows(scenario), *section.set_already(scenario))
        for row in added:
            for question in section.questions:
                values[CellRef(question.id, row.key)] = so_far.value(question, row.key)
        if section.open is not None:
            written = rows.get(section.id, ()) if asked else ()
            rows[section.id] = (*written, *(row.key for row in added))
    return Answers(values=values, rows=rows)


def _put_right(own: Answers, cells: Iterable[WrongCell]) -> Answers:
    values, rows = dict(own.values), dict(own.rows)
    for cell in cells:
        ref = CellRef(cell.question.id, cell.row)
        if cell.lapse is Lapse.EXTRA:
            values.pop(ref, None)
            rows[cell.section.id] = tuple(row for row in rows[cell.section.id] if row != cell.row)
        else:
            values[ref] = cell.expected
            if cell.lapse is Lapse.MISSING and cell.row not in rows[cell.section.id]:
                rows[cell.section.id] = (*rows[cell.section.id], cell.row)
    return Answers(values=values, rows=rows)


def _put_wrong(key: Answers, cells: Iterable[WrongCell]) -> Answers:
    values, rows = dict(key.values), dict(key.rows)
    for cell in cells:
        row = cell.row if cell.key_row is None else cell.key_row
        ref = CellRef(cell.question.id, row)
        values.pop(ref, None)
        if cell.value is not None:
            values[ref] = cell.value
        if cell.lapse is Lapse.MISSING:
            rows[cell.section.id] = tuple(each for each in rows[cell.section.id] if each != row)
        elif cell.lapse is Lapse.EXTRA and row not in rows[cell.section.id]:
            rows[cell.section.id] = (*rows[cell.section.id], row)
    return Answers(values=values, rows=rows)


# --- What is said -----------------------------------------------------------------------------------------------------

_SHEETS = {
    Part.VLAN: "Ports",
    Part.VLAN_INTERFACE: "Subnets",
    Part.ROUTED_PORT: "Links",
    Part.PORT: "Ports",
    Part.STATION: "Stations",
    Part.ROUTE: "Routes",
    Part.POOL: "Pools",
    Part.RELAY: "Relays",
    Part.SNOOPING: "Protection",
    Part.TRUST: "Protection",
    Part.GUARD: "Protection",
    Part.BINDING: "Bindings",
}
"""The sheet that a part of a device is configured on."""

_CALLED = {
    TrialKind.LEASE: "lease",
    TrialKind.PING: "ping",
    TrialKind.REACH: "ping",
    TrialKind.ROGUE_SERVER: "rogue offer",
    TrialKind.FORGED_ADDRESS: "forged packet",
    TrialKind.FORGED_MAC: "forged packet",
}
_MOST_NAMED = 2
"""Of each sort of trial so many are called by name."""


def told(experiment: Experiment, cells: int = 1) -> str:
    """What was seen, in at most two sentences. It names switches and stations, never a port, an address or a mask.

    cells: how many cells were put right together.
    """
    right = "With this right" if cells == 1 else f"With these {cells} cells right"
    if experiment.heals:
        return f"{right}, {_after(experiment.heals)} in your network."
    if experiment.stops and experiment.masked_by is not None:
        masked = experiment.masked_by
        sheet = _SHEETS[masked.because.part]
        return (
            f"In an otherwise right network {_before(experiment.stops)}. In yours that stays so once it is right: "
            f"{masked.reason.value} (at {masked.at}; see sheet {sheet})."
        )
    if experiment.stops:
        return f"In an otherwise right network {_before(experiment.stops)}; in yours something else makes up for it."
    if experiment.breaks:
        return f"Right by itself it would do harm in your network, where other values rest on it: {_count(experiment.breaks)}."
    if experiment.altered:
        return (
            f"{right}, {_count(experiment.altered)} would have another {' and another '.join(experiment.altered_in)}."
        )
    return "No lease, no ping and no attack that was tried goes otherwise because of it."


def _after(tried: Sequence[Tried]) -> str:
    """What is better afterwards: "2 leases (Cranes 1, Cranes 2) come back and 1 forged packet (...) is stopped"."""
    back = [each for each in tried if not each.is_attack]
    stopped = [each for each in tried if each.is_attack]
    parts = []
    if back:
        parts.append(f"{_count(back)} {'comes' if len(back) == 1 else 'come'} back")
    if stopped:
        parts.append(f"{_count(stopped)} {'is' if len(stopped) == 1 else 'are'} stopped")
    return " and ".join(parts)


def _before(tried: Sequence[Tried]) -> str:
    return " and ".join(
        f"{words} {_count(some)}"
        for words, some in (
            ("it stops", [each for each in tried if not each.is_attack]),
            ("it lets through", [each for each in tried if each.is_attack]),
        )
        if some
    )


def _count(tried: Sequence[Tried]) -> str:
    """Such as: 2 leases (Cranes 1, Cranes 2) and 14 pings (Cranes 1 to Office 1, Office 1 to Cranes 1, ...)."""
    sorts: dict[str, list[str]] = {}
    for each in tried:
        sorts.setdefault(_CALLED[each.kind], []).append(each.subject)
    return " and ".join(
        f"{len(subjects)} {sort}{'s' if len(subjects) > 1 else ''} ({_named(subjects)})"
        for sort, subjects in sorts.items()
    )


def _named(subjects: Sequence[str]) -> str:
    more = ", ..." if len(subjects) > _MOST_NAMED else ""
    return ", ".join(subjects[:_MOST_NAMED]) + more
