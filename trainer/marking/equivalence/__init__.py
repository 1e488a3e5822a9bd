"""Which rows of an open section are as good as the key's though they differ from it: who delivers, who is carried, who does
no harm. One file a section; a section without one is marked by its cells alone.

The form does not declare this with its sections, as it does all else: to tell what rows do, a network is built from them, and
what builds it knows the whole form. So this registry is keyed by the section's id, and stands with the marking.
"""

from collections.abc import Callable, Mapping

from trainer.lab.form import RowKey
from trainer.lab.questions.bindings import BINDINGS
from trainer.lab.questions.relays import RELAYS
from trainer.lab.questions.routes import ROUTES
from trainer.marking.equivalence.bindings import count_bindings
from trainer.marking.equivalence.counted import Counted, Equivalence, StandIn
from trainer.marking.equivalence.relays import count_relays
from trainer.marking.equivalence.routes import count_routes
from trainer.marking.matching import Matched
from trainer.marking.plans import Plans

__all__ = ["Counted", "StandIn", "count_rows"]

_EQUIVALENCES: Mapping[str, Equivalence] = {
    ROUTES.id: count_routes,
    RELAYS.id: count_relays,
    BINDINGS.id: count_bindings,
}


def count_rows(section: str, plans: Plans, matched: Matched, is_right: Callable[[RowKey, RowKey], bool]) -> Counted:
    """What the rows of a section count for; section: its id; is_right: whether a written row is right in all its cells as a
    row of the key.
    """
    count = _EQUIVALENCES.get(section)
    if count is None:
        return Counted.by_cells(matched)
    return count(plans, matched, is_right)
