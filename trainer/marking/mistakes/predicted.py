"""What comes of a wrong cell that only predicts: the network does as it does, whatever is written there.

So mistakes that can be made in other cells, too, such as slips of writing, have another consequence there.
"""

from trainer.lab.kinds import BindingType
from trainer.lab.questions.bindings import BINDING_TYPE_OF, BINDINGS
from trainer.lab.questions.relays import RELAY_ADDRESS
from trainer.lab.rows import StationRow
from trainer.marking.mistakes.mistake import Flaw, WrongCell

__all__ = ["GIADDR_COMES_BY_ITSELF", "of_a_prediction"]

GIADDR_COMES_BY_ITSELF = (
    "The relay agent fills giaddr in by itself, so the server sees something else than you predict."
)
_ROW_COMES_BY_ITSELF = "The switch learns this row by itself, so its table shows something else than you predict."


def of_a_prediction(cell: WrongCell) -> str:
    """The consequence of a cell that no device is given; "" where it is given to one, or where the whole row is at fault."""
    if cell.flaw in (Flaw.EXTRA, Flaw.MISSING):
        return ""
    if cell.question is RELAY_ADDRESS:
        return GIADDR_COMES_BY_ITSELF
    return _ROW_COMES_BY_ITSELF if _is_of_a_learnt_row(cell) else ""


def _is_of_a_learnt_row(cell: WrongCell) -> bool:
    """Whether the switch learns the row, and the trainee does not say that it is typed in."""
    if cell.section.id != BINDINGS.id or not isinstance(cell.key_row, StationRow):
        return False
    is_learnt = cell.plan.key.value(BINDING_TYPE_OF, cell.key_row) is BindingType.DYNAMIC
    return is_learnt and cell.beside(BINDING_TYPE_OF) is not BindingType.STATIC
