"""What tells mistakes on sheet Routes apart that are about the way out of the lab."""

from trainer.lab.rows import RouteRow
from trainer.marking.mistakes.mistake import WrongCell
from trainer.marking.mistakes.routes_predicates import switch_of, written_network
from trainer.network.addresses import DEFAULT_ROUTE

__all__ = ["is_far_neighbour_outside", "is_no_default", "is_of_way_out_alone", "is_test_address", "is_way_out"]


def is_way_out(cell: WrongCell) -> bool:
    """The row is about what lies outside the lab."""
    return isinstance(cell.key_row, RouteRow) and cell.key_row.vlan is None


def is_of_way_out_alone(cell: WrongCell) -> bool:
    """The test address, or a network that holds it and little else."""
    out = cell.scenario.way_out
    return is_way_out(cell) and out is not None and (cell.value in out.test_network or cell.value in out.network)


def is_test_address(cell: WrongCell) -> bool:
    out = cell.scenario.way_out
    return out is not None and cell.holds(out.test_address)


def is_far_neighbour_outside(cell: WrongCell) -> bool:
    """The neighbour outside, on a switch that is not joined to it."""
    out = cell.scenario.way_out
    return out is not None and cell.holds(out.neighbour) and out.at.switch != switch_of(cell)


def is_no_default(cell: WrongCell) -> bool:
    return is_way_out(cell) and written_network(cell) != DEFAULT_ROUTE
