"""The sheet that goes round: who got which lab, and who has brought it back."""

from collections.abc import Iterable

from trainer.lab.scenario import Trainee
from trainer.pages.blocks import Document, Table

__all__ = ["roll_document"]


def roll_document(exercise: str, date: str, labs: Iterable[tuple[Trainee, str]]) -> Document:
    """exercise: code and title. labs: trainees, each with a lab number, in roll order."""
    rows = tuple(((trainee.id,), (trainee.name,), (trainee.group,), (lab,), (), (), ()) for trainee, lab in labs)
    table = Table(
        title="Handed out and brought back",
        headings=("Id", "Name", "Group", "Lab number", "Out", "In", "Signature"),
        rows=rows,
        is_form=True,
        unbroken=frozenset({0, 1, 2, 3}),
        shows_title=False,
    )
    return Document(
        title=f"Roll {exercise}",
        heading="Handed out and brought back",
        over=exercise,
        facts=(("Date", date or "_" * 20), ("Trainees", str(len(rows)))),
        blocks=(table,),
        foot="For the instructor only.",
        running=f"Roll   {exercise}",
    )
