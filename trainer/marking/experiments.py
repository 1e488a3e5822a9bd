"""What a wrong cell does, tried on the network: with all the trainee's answers, with this cell put right, and with this
cell alone wrong in a right network.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice, takewhile
from typing import Any, NamedTuple

from trainer.lab.build import Built, build, rebuilt
from trainer.lab.form import Answers, CellRef, RowKey, Section, SoFar
from trainer.lab.key import completed, derive_key
from trainer.lab.leases import differences
from trainer.lab.questions import links, pools, stations, subnets
from trainer.lab.scenario import Scenario, Vlan
from trainer.lab.trials import Site, Trial, TrialKind, TrialName, Tried, Visitor, trials_on, try_network, visitors_of
from trainer.lab.vlan_id import VlanId
from trainer.lab.works import Works
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.working import all_works, works_of
from trainer.network.devices import Network
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import render
from trainer.network.trials import traced

__all__ = ["Experiment", "Laboratory", "Masking", "size_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Masking:
    """What else still stops a trial once the cell that was tried is right."""

    drop: Dropped
    section: Section[Any] | None
    """Where the setting that stops it is made, or would have to be; None where that is as it should be."""
    row: RowKey | None
    """Its row; None where no row that the trainee knows is to be named."""


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
    """Leases of the trainee's own network that are granted with this right or wrong, but not the same: as they are then."""
    altered_in: tuple[str, ...]
    """What they have then, such as "another mask"."""
    would_alter: tuple[Tried, ...]
    """Leases of a right network that are granted with this alone wrong in it, too, but not the same: as they are then."""
    would_alter_in: tuple[str, ...]
    """What they have then."""
    stays: bool
    """Whether something of what it stops goes wrong in the trainee's own network once it is right, too."""
    masked_by: Masking | None
    """What it stops, and what in the trainee's own network still stops that once this is right."""


Results = Mapping[TrialName, Tried]
"""How a network was tried, the leases first."""

_DECIDE_WHO_VISITS: tuple[Section[Any], ...] = (subnets.SUBNETS, links.LINKS, stations.STATIONS, pools.POOLS)
"""The sections that say where networks lie and which addresses are taken."""
_PLACING = frozenset(question.id for section in _DECIDE_WHO_VISITS for question in section.questions)
_MOST_RETRACED = 3
"""So many trials are made once more to show the steps of one."""


def size_of(scenario: Scenario) -> int:
    """About how many trials one experiment makes, on two networks: pings between stations and to needed addresses."""
    stations = len(scenario.stations)
    return 2 * (stations * (stations - 1) + 2 * len(scenario.vlans) * (len(scenario.switches) + 1))


class Laboratory:
    """A trainee's network, and a right one, to try changes on."""

    def __init__(
        self,
        scenario: Scenario,
        answers: Answers,
        so_far: SoFar,
        key: SoFar | None = None,
        *,
        is_key_proved: bool = False,
    ) -> None:
        """answers: what the trainee wrote; so_far: the plan that it makes; key: the values of the key, where some are known;
        is_key_proved: whether the key's network has been tried and all of it works.
        """
        self._scenario = scenario
        self._answers = answers
        self._is_key_proved = is_key_proved
        self._key = derive_key(scenario, key)
        self._key_so_far = SoFar(scenario, self._key.values)
        own = build(scenario, completed(scenario, answers, so_far, scenario.asked, key))
        self._own = _Ground(scenario, own, self._key_so_far, with_controls=True)
        self.network = own.network
        """The trainee's own."""
        self.guests = self._own.guests
        """Who visits it for trials."""
        self.works = self._works()
        """What of the trainee's own network works."""

    def _works(self) -> Works:
        own, guests_of_key = self._own, self._guests_of_key()
        trials_of_key = own.trials_with(guests_of_key)
        if self._is_key_proved and self.guests == guests_of_key and self._is_the_keys():
            return all_works(self._scenario, trials_of_key)
        return works_of(
            self._scenario,
            own.running,
            own.results.values(),
            guests=[each for each in self.guests if _has_interface(self.network, each)],
            guests_of_key=guests_of_key,
            trials_of_key=trials_of_key,
        )

    def _is_the_keys(self) -> bool:
        """Whether the trainee's own network is set as the key's is."""
        return self.network.without_names_of_rows() == self._built_by_key.network.without_names_of_rows()

    @cached_property
    def _built_by_key(self) -> Built:
        return build(self._scenario, self._key)

    @cached_property
    def _right(self) -> "_Ground":
        return _Ground(
            self._scenario,
            self._built_by_key,
            self._key_so_far,
            with_controls=False,
            like=self._own,
            is_proved=self._is_key_proved,
        )

    def _guests_of_key(self) -> tuple[Visitor, ...]:
        """Who visits the key's network: the same as the trainee's own where nothing that decides it is otherwise."""
        own, key = self._own, self._key.values
        if all(own.built.answers.values.get(each) == key[each] for each in key if each.question in _PLACING):
            return own.guests
        sites = _sites(self._scenario, self._key, self._key_so_far)
        return own.visits.made(sites, self._built_by_key.network)

    def experiment(self, cells: Sequence[WrongCell]) -> Experiment:
        """The cells, all of one section, are put right, or made wrong, together."""
        own, right = self._own, self._right
        section = cells[0].section
        mended = own.changed(_put_right(own.built.answers, cells), section)
        healed, alone = mended.results, right.changed(_put_wrong(self._key, cells), section).results
        altered, altered_in = _altered(healed, own.results)
        would_alter, would_alter_in = _altered(alone, right.results)
        differ = _differing(own.results, healed)
        stops = tuple(right.failing_with(alone))
        failing = own.failing - {after.name for before, after in differ if before.fails}
        still = [healed[each.name] for each in stops if each.name in failing and each.name in healed]
        return Experiment(
            stops=stops,
            altered=altered,
            altered_in=altered_in,
            would_alter=would_alter,
            would_alter_in=would_alter_in,
            heals=tuple(before for before, after in differ if before.fails and after.works),
            breaks=tuple(after for before, after in differ if before.works and after.fails),
            stays=bool(still),
            masked_by=next((self._mask(mended.built, drop) for each in still if (drop := _why(mended, each))), None),
        )

    def _mask(self, built: Built, drop: Dropped) -> Masking:
        section, cells = built.section(drop.because), built.cells(drop.because)
        is_known = bool(cells) and (section.open is None or cells[0].row in self._answers.rows.get(section.id, ()))
        is_right = section.open is None and all(
            self._own.built.answers.values.get(each) == self._key.values.get(each) for each in cells
        )
        if cells and is_right:  # the packet should not have come there
            return Masking(drop=drop, section=None, row=None)
        return Masking(drop=drop, section=section, row=cells[0].row if is_known else None)

    def traced(self, experiment: Experiment) -> tuple[Tried, tuple[str, ...]] | None:
        """One trial that goes wrong because of it in the trainee's own network, and a line for each of its steps.

        None where none of the first goes wrong again when it is made once more. A ping of a station without an address has
        no steps to show: its lease has.
        """
        failed = (each for each in experiment.heals if not _has_no_address(each))
        for each in islice(failed, _MOST_RETRACED):
            again = traced(each.trial.run, self._own.running)
            if again.result.fails:
                return each, render(again.steps)
        return None


class _Changed(NamedTuple):
    """A network in which something was changed."""

    built: Built
    running: Running
    results: Results
    """How it was tried. What is to blame for a drop may be something else in it than is told here (lab/trials.try_network)."""


class _Ground:
    """A network that changes are tried on."""

    def __init__(
        self,
        scenario: Scenario,
        built: Built,
        key: SoFar,
        *,
        with_controls: bool,
        like: "_Ground | None" = None,
        is_proved: bool = False,
    ) -> None:
        """key: the right plan; with_controls: whether attacks are tried without their protection too; like: another one of the
        lab; is_proved: whether this is the key's, and it has been tried and all of it works.
        """
        self._scenario = scenario
        self._key = key
        self.built = built
        self._sites = _sites(scenario, built.answers, key)
        self.visits: _Visits = _Visits(scenario) if like is None else like.visits
        self.guests = self.visits.made(self._sites, built.network)
        self._trials = trials_on(scenario, self.guests) if like is None else like.trials_with(self.guests)
        self._with_controls = with_controls
        self._is_proved = is_proved and self.guests == self.visits.possible(self._sites)

    @cached_property
    def _tried(self) -> tuple[Running, Results]:
        running, tried = try_network(
            self._scenario,
            self.built.network,
            self.guests,
            with_controls=self._with_controls,
            trials=self._trials,
            known=self._known_beforehand(),
        )
        return running, {each.trial.name: each for each in tried}

    def _known_beforehand(self) -> Results:
        """Of the key's network, once it is proved, that every ping is answered."""
        return {each.name: each.answered for each in self._trials if self._is_proved and not each.is_attack}

    @property
    def running(self) -> Running:
        return self._tried[0]

    @property
    def results(self) -> Results:
        return self._tried[1]

    @cached_property
    def failing(self) -> frozenset[TrialName]:
        """What goes wrong in it."""
        return frozenset(name for name, each in self.results.items() if each.fails)

    def failing_with(self, results: Results) -> Iterator[Tried]:
        """What goes wrong once it is changed; results: how it was tried then."""
        for name, each in results.items():
            is_as_before = each is self.results.get(name)
            if (is_as_before and name in self.failing) or (not is_as_before and each.fails):
                yield each

    def changed(self, answers: Answers, section: Section[Any]) -> _Changed:
        """The network where the answers of one section are others, and how it is tried."""
        scenario = self._scenario
        built = rebuilt(self.built, answers, section)
        guests = self._guests(built, section)
        if guests == self.guests and built.network == self.built.network:
            return _Changed(built, self.running, self.results)
        running, tried = try_network(
            scenario,
            built.network,
            guests,
            with_controls=False,
            like=self.running,
            known=self.results,
            trials=self.trials_with(guests),
        )
        return _Changed(built, running, {each.trial.name: each for each in tried})

    def trials_with(self, guests: Sequence[Visitor]) -> Sequence[Trial]:
        """What is tried after the leases where such guests visit."""
        are_called_alike = [each.name for each, _ in guests] == [each.name for each, _ in self.guests]
        return self._trials if are_called_alike else trials_on(self._scenario, guests)

    def _guests(self, built: Built, section: Section[Any]) -> tuple[Visitor, ...]:
        if section not in _DECIDE_WHO_VISITS:
            return self.guests
        sites = self._sites
        if section is subnets.SUBNETS:
            sites = _sites(self._scenario, built.answers, self._key)
        return self.visits.made(sites, built.network)


class _Visits:
    """Who visits the networks of a lab for trials. Who visits a VLAN is worked out once for each place where it lies."""

    def __init__(self, scenario: Scenario) -> None:
        self._scenario = scenario
        self._known: dict[tuple[VlanId, Site], tuple[Visitor, ...]] = {}

    def made(self, sites: Mapping[VlanId, Site], network: Network) -> tuple[Visitor, ...]:
        """Who visits a network; sites: where its VLANs lie."""
        return _not_in_the_way(self.possible(sites), sites, network)

    def possible(self, sites: Mapping[VlanId, Site]) -> tuple[Visitor, ...]:
        """Who would, if nobody was in the way."""
        return tuple(each for vlan in self._scenario.vlans for each in self._of(vlan, sites[vlan.id]))

    def _of(self, vlan: Vlan, site: Site) -> tuple[Visitor, ...]:
        known = self._known.get((vlan.id, site))
        if known is None:
            known = self._known[vlan.id, site] = visitors_of(self._scenario, vlan, site)
        return known


def _not_in_the_way(guests: Iterable[Visitor], sites: Mapping[VlanId, Site], network: Network) -> tuple[Visitor, ...]:
    """Who visits a network: nobody whose address is a gateway's, or one of the first that a pool hands out. That would make a
    conflict that nobody in the lab makes.
    """
    in_the_way = {int(site.gateway) for site in sites.values() if site.gateway is not None}
    in_the_way.update(_handed_out(network))
    return tuple(each for each in guests if each[0].fixed is None or int(each[0].fixed.address) not in in_the_way)


def _sites(scenario: Scenario, answers: Answers, key: SoFar) -> dict[VlanId, Site]:
    plan = SoFar(scenario, answers.values, key)
    return {vlan.id: _site(plan, vlan.id) for vlan in scenario.vlans}


def _differing(these: Results, those: Results) -> list[tuple[Tried, Tried]]:
    """The trials of two networks that went one way in one and another way in the other."""
    pairs = ((one, those.get(name)) for name, one in these.items())
    return [
        (one, other) for one, other in pairs if other is not None and other is not one and one.fails is not other.fails
    ]


def _altered(these: Results, those: Results) -> tuple[tuple[Tried, ...], tuple[str, ...]]:
    """The leases of a network that are granted in another one too, but not alike; and what they have that those have not."""
    leases = takewhile(lambda tried: tried.kind is TrialKind.LEASE, these.values())
    both = [(tried, _differences(tried, those[tried.name])) for tried in leases if tried.name in those]
    words = dict.fromkeys(word for _, differ in both for word in differ)
    return tuple(tried for tried, differ in both if differ), tuple(words)


def _differences(one: Tried, other: Tried) -> tuple[str, ...]:
    """What a lease has that another has not; nothing where one was not granted, or where these are no leases."""
    if not isinstance(one.outcome, Lease) or not isinstance(other.outcome, Lease):
        return ()
    return differences(one.outcome, other.outcome)


def _why(changed: _Changed, tried: Tried) -> Dropped | None:
    """What stops it; where a station has no address because it got no lease, what stops the lease."""
    if not isinstance(tried.outcome, Dropped):
        return None
    drop = tried.outcome if tried.kind is TrialKind.LEASE else tried.trial.run(changed.running).outcome
    assert isinstance(drop, Dropped), "it goes as before"
    lease = changed.results.get((TrialKind.LEASE, drop.at, ""))
    if drop.reason is Reason.NO_ADDRESS and lease is not None and isinstance(lease.outcome, Dropped):
        return lease.outcome
    return drop


def _has_no_address(tried: Tried) -> bool:
    return isinstance(tried.outcome, Dropped) and tried.outcome.reason is Reason.NO_ADDRESS


def _has_interface(network: Network, guest: Visitor) -> bool:
    """Whether its VLAN has a network at all; a visitor of one that is not planned stands at an address of the key's plan."""
    visitor, vlan = guest
    here = next(switch for switch in network.switches if switch.name == visitor.at.switch)
    return any(interface.place == vlan.number for interface in here.interfaces)


def _handed_out(network: Network) -> Iterator[int]:
    """Of every pool so many addresses as there are clients, lowest first, without those that somebody is set to."""
    taken = {int(station.fixed.address) for station in network.stations if station.fixed is not None}
    taken |= {int(interface.address) for switch in network.switches for interface in switch.interfaces}
    clients = sum(station.uses_dhcp for station in network.stations)
    for pool in () if network.server is None else network.server.pools:
        numbers = range(int(pool.lowest), int(pool.highest) + 1)
        yield from islice((number for number in numbers if number not in taken), clients)


def _site(plan: SoFar, vlan: VlanId) -> Site:
    return Site(subnets.network_of(plan, vlan), plan.value(subnets.GATEWAY, subnets.row_of(vlan)))


def _put_right(own: Answers, cells: Collection[WrongCell]) -> Answers:
    return own.changed(
        {cell.ref: cell.expected for cell in cells if cell.flaw is not Flaw.EXTRA},
        without=[(cell.section.id, cell.row) for cell in cells if cell.flaw is Flaw.EXTRA],
        added=[(cell.section.id, cell.row) for cell in cells if cell.flaw is Flaw.MISSING],
    )


def _put_wrong(key: Answers, cells: Collection[WrongCell]) -> Answers:
    rows = [(cell, cell.row if cell.key_row is None else cell.key_row) for cell in cells]
    return key.changed(
        {CellRef(cell.question.id, row): cell.value for cell, row in rows},
        without=[(cell.section.id, row) for cell, row in rows if cell.flaw is Flaw.MISSING],
        added=[(cell.section.id, row) for cell, row in rows if cell.flaw is Flaw.EXTRA],
    )
