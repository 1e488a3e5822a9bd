"""What comes of a wrong cell that only predicts: the network does as it does, whatever is written there.

So mistakes that can be made in other cells, too, such as slips of writing, have another consequence there, and those that
can be made nowhere else have none of their own.
"""

from collections.abc import Mapping

from trainer.lab.form import Role
from trainer.lab.kinds import BindingType
from trainer.lab.questions.bindings import BINDING_TYPE_OF, BINDINGS
from trainer.lab.questions.relays import RELAY_ADDRESS
from trainer.lab.rows import StationRow
from trainer.marking.mistakes.mistake import Flaw, WrongCell

__all__ = ["of_a_prediction"]

_COMES_BY_ITSELF: Mapping[str, str] = {
    RELAY_ADDRESS.id: "The relay agent fills giaddr in by itself, so the server sees something else than you predict.",
}
"""What comes of a wrong prediction, by question, where the mistakes in it do not say that themselves."""
_ROW_COMES_BY_ITSELF = "The switch learns this row by itself, so its table shows something else than you predict."
_NOT_PREDICTED = (
    "The network does the same without this cell, by which no device is set: only your prediction is missing."
)


def of_a_prediction(cell: WrongCell) -> str:
    """The consequence of a cell that no device is given; "" where it is given to one, where the whole row is at fault, or where
    the mistake has its own.
    """
    if cell.flaw in (Flaw.EXTRA, Flaw.MISSING):
        return ""
    is_learnt = _is_of_a_learnt_row(cell)
    if cell.flaw is Flaw.BLANK:
        return _NOT_PREDICTED if is_learnt or cell.question.role is Role.PREDICTS else ""
    return _ROW_COMES_BY_ITSELF if is_learnt else _COMES_BY_ITSELF.get(cell.question.id, "")


def _is_of_a_learnt_row(cell: WrongCell) -> bool:
    """Whether the switch learns the row, and the trainee does not say that it is typed in."""
    if cell.section.id != BINDINGS.id or not isinstance(cell.key_row, StationRow):
        return False
    is_learnt = cell.plan.key.value(BINDING_TYPE_OF, cell.key_row) is BindingType.DYNAMIC
    return is_learnt and cell.beside(BINDING_TYPE_OF) is not BindingType.STATIC
