"""Routes that differ from the key's: what delivers is right, rivals and rows too many are not, and circles of packets for unused
addresses are said, and charged once where they are forbidden.
"""

from collections.abc import Sequence
from ipaddress import ip_network

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef, RowKey, SoFar
from trainer.lab.questions import links, routes, subnets
from trainer.lab.rows import WrittenRow
from trainer.lab.scenario import Scenario, UnknownAddresses
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Verdict

Route = tuple[str, ...]
"""The texts of a row: switch, destination, mask, next hop."""


def lab_of(shape: dict[str, str] | None = None, seed: int = 0, **settings: str) -> Scenario:
    tables = None if shape is None else shaped(shape)
    (lab,) = draw(exercise_of(changed(tables=tables, **settings)), 1, bytes([seed]) * 32)
    return lab


def key_routes(lab: Scenario) -> dict[RowKey, Route]:
    key = SoFar(lab)
    return {
        row.key: tuple(question.kind.show(key.value(question, row.key)) for question in routes.ROUTES.questions)
        for row in routes.ROUTES.rows(lab)
    }


def default(lab: Scenario, here: str, there: str) -> Route:
    link = next(each for each in lab.links if {each.first.switch, each.second.switch} == {here, there})
    far = link.first if link.first.switch == there else link.second
    return here, "0.0.0.0", "/0", str(links.end_address(SoFar(lab), link, far.switch))


def marked_routes(lab: Scenario, rows: Sequence[Route]) -> list[CellMark]:
    """The cells of sheet Routes with these rows; the rest is the key."""
    texts = {cell: text for cell, text in key_texts(lab).items() if not cell.question.startswith("routes.")}
    for number, row in enumerate(rows, 1):
        for question, text in zip(routes.ROUTES.questions, row, strict=True):
            texts[CellRef(question.id, WrittenRow("Route", number))] = text
    return [each for each in mark(lab, filled(texts)).cells if each.section == "routes"]


def rows_with(cells: Sequence[CellMark], verdict: Verdict) -> set[str]:
    return {each.row for each in cells if each.verdict is verdict}


def routes_lost(cells: Sequence[CellMark]) -> float:
    """How many rows of the key the lost marks are worth; to a tenth, as marks are rounded to thousandths."""
    of_a_row = sum(each.out_of for each in cells if each.row == cells[0].row)
    return round(float(sum(each.out_of - each.marks for each in cells) / of_a_row), 1)


@pytest.mark.parametrize("may", ["may loop", "dropped"])
def test_two_defaults_that_circle_are_told_at_both_ends_and_cost_one_route_where_that_is_forbidden(may: str) -> None:
    lab = lab_of(unknown_addresses=may)
    cells = marked_routes(lab, [default(lab, "A", "B"), default(lab, "B", "A")])
    if lab.rules.unknown_addresses is UnknownAddresses.MAY_CIRCLE:
        assert routes_lost(cells) == 0
        assert {each.row for each in cells if "routing loop" in each.remark} == {"Route 1", "Route 2"}
        return
    assert routes_lost(cells) == 1
    assert rows_with(cells, Verdict.PARTLY) == {"Route 1", "Route 2"}
    assert {each.verdict for each in cells} == {Verdict.PARTLY, Verdict.RIGHT}
    for each in cells:
        if each.verdict is Verdict.PARTLY:
            assert each.explanation is not None
            assert "Route 1 and Route 2" in each.explanation.explanation
            assert each.expected == "", "what stands there is right in another plan, so that nothing stands beside it"


@pytest.mark.parametrize("seed", range(3))
def test_a_default_against_a_summary_is_charged_at_its_two_ends_and_not_on_the_switch_behind(seed: int) -> None:
    """A - B - C: a default on C, and on B one summary for the range of C, twice as wide as that."""
    lab = lab_of({"A": "", "B": "A", "C": "B"}, seed, order="a range a switch", block_length="/18")
    far = [subnets.network_of(SoFar(lab), vlan.number) for vlan in lab.vlans if vlan.switch == "C"]
    summary = far[0]
    while not all(each.subnet_of(summary) for each in far):
        summary = summary.supernet()
    summary = summary.supernet()
    towards_c = default(lab, "B", "C")[3]
    exact = key_routes(lab)
    homes = {str(vlan.number): vlan.switch for vlan in lab.vlans}
    wide = ("B", str(summary.network_address), f"/{summary.prefixlen}", towards_c)
    kept = [row for name, row in exact.items() if row[0] == "A" or (row[0] == "B" and homes[name.split()[-1]] == "A")]
    cells = marked_routes(lab, [default(lab, "C", "B"), wide, *kept])
    assert rows_with(cells, Verdict.PARTLY) == {"Route 1", "Route 2"}
    assert routes_lost(cells) == 1
    for each in cells:
        if each.verdict is Verdict.PARTLY:
            assert each.explanation is not None
            assert "between B and C" in each.explanation.explanation


def test_a_default_is_not_charged_for_a_wrong_route_that_sends_it_packets_back() -> None:
    """The one error is a destination on A that no network has; B's default sends such packets back, and is right."""
    lab = lab_of()
    on_a = [row for row in key_routes(lab).values() if row[0] == "A"]
    assert routes_lost(marked_routes(lab, [default(lab, "B", "A"), *on_a])) == 0
    astray = ("A", "192.0.2.0", "/24", on_a[0][3])
    cells = marked_routes(lab, [default(lab, "B", "A"), astray, *on_a[1:]])
    assert {each.row for each in cells if not each.verdict.is_full} == {"Route 2"}


def test_defaults_beside_every_route_that_is_asked_cost_half_a_route_each_where_they_circle() -> None:
    """They carry nothing that is asked for; what they do to unused addresses is forbidden all the same (R9)."""
    lab = lab_of()
    rows = [*key_routes(lab).values(), default(lab, "A", "B"), default(lab, "B", "A")]
    cells = marked_routes(lab, rows)
    assert routes_lost(cells) == 1
    extras = [each.explanation for each in cells if each.verdict is Verdict.EXTRA]
    assert {said.mistake for said in extras if said is not None} == {"route-defaults-circle"}
    assert routes_lost(marked_routes(lab, rows[:-1])) == 0, "one alone sends them on to a switch that drops them"
    allowed = lab_of(unknown_addresses="may loop")
    assert routes_lost(marked_routes(allowed, rows)) == 0


def test_a_default_that_carries_circles_with_one_that_is_not_needed() -> None:
    lab = lab_of()
    exact = key_routes(lab)
    rows = [default(lab, "A", "B"), *(row for row in exact.values() if row[0] == "B"), default(lab, "B", "A")]
    cells = marked_routes(lab, rows)
    assert rows_with(cells, Verdict.PARTLY) == {"Route 1"}
    assert rows_with(cells, Verdict.EXTRA) == {f"Route {len(rows)}"}


CHAIN = {"A": "", "B": "A", "C": "B"}


def of_b(lab: Scenario) -> list[Route]:
    return [row for row in key_routes(lab).values() if row[0] == "B"]


def test_a_wrong_row_beside_defaults_that_do_the_job_costs_a_row_wherever_it_stands() -> None:
    """It was once paired with a row of the key that a default had taken over, and so ticked."""
    lab = lab_of(CHAIN)
    to_a = default(lab, "B", "A")[3]
    astray = next(("B", *row[1:3], to_a) for row in of_b(lab) if row[3] != to_a)
    rows = [default(lab, "A", "B"), default(lab, "C", "B"), *of_b(lab)]
    assert routes_lost(marked_routes(lab, rows)) == 0
    for place in range(len(rows) + 1):
        cells = marked_routes(lab, [*rows[:place], astray, *rows[place:]])
        assert routes_lost(cells) == 1
        assert rows_with(cells, Verdict.EXTRA) == {f"Route {place + 1}"}
    nowhere = (*of_b(lab)[0][:3], "10.9.9.9")
    assert rows_with(marked_routes(lab, [*rows, nowhere]), Verdict.EXTRA) == {f"Route {len(rows) + 1}"}


def test_whoever_writes_every_network_over_both_neighbours_earns_none_of_them() -> None:
    lab = lab_of(CHAIN)
    over = [default(lab, "B", there)[3] for there in "AC"]
    rows = [(*row[:3], next_hop) for row in of_b(lab) for next_hop in over]
    both = [default(lab, "A", "B"), default(lab, "C", "B"), *rows]
    assert routes_lost(marked_routes(lab, both)) == routes_lost(marked_routes(lab, both[::-1])) == len(of_b(lab))


def test_of_two_rival_defaults_the_order_does_not_count() -> None:
    """R8: a switch may take either, so neither leads anywhere for certain."""
    lab = lab_of(CHAIN)
    others = [row for row in key_routes(lab).values() if row[0] != "B"]
    rivals = [default(lab, "B", "A"), default(lab, "B", "C")]
    lost = {routes_lost(marked_routes(lab, [*each, *others])) for each in (rivals, rivals[::-1])}
    assert len(lost) == 1
    assert lost.pop() > 3


def test_a_summary_that_swallows_a_neighbour_costs_what_it_does_not_deliver_and_no_route_of_others() -> None:
    """B sends all of C's networks back to A. A's own routes are right, though packets circle between them and B's."""
    lab = lab_of(CHAIN, order="a range a switch", block_length="/20")
    swallowed = [row for name, row in key_routes(lab).items() if row[0] == "B" and row[3] == default(lab, "B", "C")[3]]
    whole = ("B", str(lab.block.network_address), f"/{lab.block.prefixlen}", default(lab, "B", "A")[3])
    others = [row for row in key_routes(lab).values() if row[0] != "B"]
    cells = marked_routes(lab, [whole, *others])
    assert not rows_with(cells, Verdict.PARTLY)
    assert routes_lost(cells) == len(swallowed)


def test_a_wrong_row_costs_as_much_when_it_is_written_twice() -> None:
    """R9: of two copies one is free, and no row is a copy of itself."""
    lab = lab_of(CHAIN)
    every = list(key_routes(lab).values())
    over = [default(lab, "B", there)[3] for there in "AC"]
    rivals = [(*row[:3], next(hop for hop in over if hop != row[3])) for row in of_b(lab)]
    astray = ("A", str(lab.block.network_address), f"/{lab.block.prefixlen}", "10.9.9.9")
    for wrong in (rivals, [astray]):
        once, twice = (routes_lost(marked_routes(lab, [*every, *wrong * times])) for times in (1, 2))
        assert once == twice == len(wrong)
    assert routes_lost(marked_routes(lab, every * 2)) == 0, "copies of right rows"


def test_a_rival_of_a_row_that_is_there_is_not_paid_for_by_one_that_is_missing() -> None:
    """Leaving one network out buys no second guess at another."""
    lab = lab_of(CHAIN)
    first, second, *_ = of_b(lab)
    rest = [row for row in key_routes(lab).values() if row != second]
    rival = (*first[:3], next(hop for hop in (default(lab, "B", there)[3] for there in "AC") if hop != first[3]))
    assert routes_lost(marked_routes(lab, rest)) == 1
    assert routes_lost(marked_routes(lab, [*rest, rival])) == 2
    misplaced = ("B", "192.0.2.0", second[2], "10.9.9.9")
    assert routes_lost(marked_routes(lab, [*rest, misplaced])) == 1, "that one was meant for it"


def test_rows_that_leave_one_cell_blank_are_no_way_to_list_everything() -> None:
    lab = lab_of(CHAIN)
    networks = {row[1:3] for row in key_routes(lab).values()}
    hops = [default(lab, *pair)[3] for pair in ("AB", "BA", "BC", "CB")]
    rows = [(switch, network, "", hop) for switch in "ABC" for network, _ in networks for hop in hops]
    cells = marked_routes(lab, rows)
    assert sum(cell.marks for cell in cells) <= 0


def test_a_route_in_exchanged_columns_earns_nothing_for_a_wrong_mask() -> None:
    lab = lab_of()
    switch, network, mask, hop = next(iter(key_routes(lab).values()))
    others = list(key_routes(lab).values())[1:]
    exchanged = routes_lost(marked_routes(lab, [(switch, hop, mask, network), *others]))
    cells = marked_routes(lab, [(switch, hop, "/5", network), *others])
    assert {cell.question for cell in cells if cell.verdict is Verdict.WRONG} == {"routes.mask"}
    assert exchanged < routes_lost(cells)


@pytest.mark.parametrize("shape", [None, CHAIN], ids=["two switches", "three"])
def test_a_mask_one_bit_short_costs_no_more_than_its_cell_though_unused_addresses_circle(shape: dict[str, str] | None):
    """R12: the default route out of the lab, which is right, sends them back. The row does its own job and no other."""
    lab = lab_of(shape, way_out="A", unknown_addresses="dropped")
    rows = list(key_routes(lab).values())
    charged = 0
    for place, (switch, network, mask, hop) in enumerate(rows):
        length = ip_network(f"0.0.0.0/{mask.lstrip('/')}").prefixlen
        if length == 0:
            continue
        short = (switch, network, f"/{length - 1}", hop)
        wrong = [
            each for each in marked_routes(lab, [*rows[:place], short, *rows[place + 1 :]]) if not each.verdict.is_full
        ]
        assert [each.question for each in wrong] in ([], ["routes.mask"]), f"Route {place + 1}"
        charged += len(wrong)
    assert charged >= 2
