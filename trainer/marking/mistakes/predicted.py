"""What comes of a wrong cell by which no device is set, as it predicts what the network will do or describes the plan: the
network does as it does, whatever is written there.

So mistakes that can be made in other cells, too, such as slips of writing, have another consequence there, and those that
can be made in predictions only have none of their own. What a description holds is built from by hand: mistakes in one say what
comes of that.
"""

from collections.abc import Mapping

from trainer.lab.form import Role
from trainer.lab.kinds import BindingType
from trainer.lab.questions.bindings import BINDING_LEASE, BINDING_TYPE_OF, BINDINGS
from trainer.lab.questions.relays import RELAY_ADDRESS
from trainer.lab.rows import StationRow
from trainer.marking.mistakes.mistake import Flaw, WrongCell

__all__ = ["where_no_device_is_set"]

_COMES_BY_ITSELF: Mapping[str, str] = {
    RELAY_ADDRESS.id: "The relay agent fills giaddr in by itself, so the server sees something else than you predict.",
    BINDING_LEASE.id: "No device is set by this cell: the table of the switch shows another time than you predict.",
}
"""What comes of a wrong prediction, by question, where the mistakes in it do not say that themselves."""
_ROW_COMES_BY_ITSELF = "The switch learns this row by itself, so its table shows something else than you predict."
_NO_ROW_COMES = (
    "A switch learns such a row by itself or not at all, so its table shows something else than you predict."
)
_NOT_PREDICTED = (
    "The network does the same without this cell, by which no device is set: only your prediction is missing."
)
_NOT_COMPARED = (
    "The network does the same whatever stands in this cell, by which no device is set: "
    "only your prediction cannot be compared with it."
)
_NOT_BUILT_FROM = "No device is set by this cell, but nobody can build from a plan that cannot be read here."


def where_no_device_is_set(cell: WrongCell) -> str:
    """The consequence of a cell by which no device is set; "" where one is, or where what the mistake says itself holds all the
    same. Of a row that is missing, or that nobody asked for, it counts whether the row sets one.
    """
    is_learnt = _is_of_a_learnt_row(cell)
    match cell.flaw:
        case Flaw.MISSING:
            return ""
        case Flaw.EXTRA:
            return _NO_ROW_COMES if is_learnt else ""
        case Flaw.WRONG:
            return _ROW_COMES_BY_ITSELF if is_learnt else _COMES_BY_ITSELF.get(cell.question.id, "")
    is_blank = cell.flaw is Flaw.BLANK
    if is_learnt or cell.question.role is Role.PREDICTS:
        return _NOT_PREDICTED if is_blank else _NOT_COMPARED
    return _NOT_BUILT_FROM if cell.question.role is Role.DESCRIBES and not is_blank else ""


def _is_of_a_learnt_row(cell: WrongCell) -> bool:
    """Whether the trainee does not say that the row is typed in, and no rule does: the switch learns it, if anybody does."""
    if cell.section.id != BINDINGS.id or cell.beside(BINDING_TYPE_OF) is BindingType.STATIC:
        return False
    if not isinstance(cell.key_row, StationRow):
        return True
    return cell.plan.key.value(BINDING_TYPE_OF, cell.key_row) is BindingType.DYNAMIC
