"""What is said of the cells of a fault-finding sheet: each cause by an id of its own.

Hints are questions that name no line. What the network does with the trainee's own repair is tried and told beside these words.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from trainer.listing import listed
from trainer.marking.explanation import Explanation

__all__ = ["WORDS", "explained", "hint_of", "seen_of"]

_WHICH = "Which of the symptoms would stay if only this were mended?"


def _said(mistake: str, explanation: str, consequence: str, hint: str) -> Explanation:
    return Explanation(mistake=mistake, explanation=explanation, consequence=consequence, hint=hint)


_ALL = (
    _said(
        "fault-other-line",
        "The right device and the right table, but another line of it.",
        "With this line mended the users still complain.",
        _WHICH,
    ),
    _said(
        "fault-other-table",
        "The right device, but another table of it.",
        "With this line mended the users still complain.",
        "Which messages still get through that device, and which do not?",
    ),
    _said(
        "fault-elsewhere",
        "What was seen does not come from this line.",
        "With this line mended the users still complain.",
        "Which symptom shows that the way is whole up to the middle, and which half is left?",
    ),
    _said(
        "fault-as-planned",
        "This line is as the plan has it.",
        "Whatever is set here instead is one fault more.",
        "Which values of the plan have you worked out yourself, and which lines differ from them?",
    ),
    _said(
        "fault-named-twice",
        "Another row of yours names this line.",
        "Two values for one setting are no repair: nobody knows which to set.",
        "Which of your rows for this line do you stand by?",
    ),
    _said(
        "fault-no-such-line",
        "No sheet Found has a line of that name.",
        "Nobody could mend it.",
        "How are the lines called on the sheets Found?",
    ),
    _said(
        "fault-harmless-accused",
        "This line is not as planned, but nothing that was seen comes from it.",
        "With it mended, or left as it is, all goes the same, so the fault stays.",
        _WHICH,
    ),
    _said(
        "fault-not-named",
        "A fault behind these symptoms is not named.",
        "The users still complain when all that you name is mended.",
        "Which symptoms do your lines not explain?",
    ),
    _said(
        "fault-none-said",
        "Something is wrong here: what was seen is not all as planned.",
        "Left as it is, the users still complain.",
        "Which of the symptoms would you not see in the network as planned?",
    ),
    _said(
        "fault-none-not-said",
        "Nothing is wrong in this network, and that is an answer too.",
        "Whoever goes on looking for a fault makes one.",
        "Which of the symptoms is not as it would be in the network as planned?",
    ),
    _said(
        "fault-none-and-one",
        "You say that nothing is wrong, and another row of yours accuses a line.",
        "Nobody knows what to do with both.",
        "Which of the two do you stand by?",
    ),
    _said(
        "fault-harmless-not-named",
        "Something else is not as planned, and harmless.",
        "Nothing comes of it today; after the next change something may.",
        "Which values on the sheets Found differ from the plan that you worked out?",
    ),
    _said(
        "fault-column",
        "The right line, but not the value in it that is wrong.",
        "What is set under this heading is as planned.",
        "Which of the values of this line follow from the Brief, and which one does not?",
    ),
    _said(
        "fault-without-column",
        "The right line, but it is not said under which heading this should stand.",
        "Nobody could set it: a line has several values.",
        "Which of the values of this line follow from the Brief, and which one does not?",
    ),
    _said(
        "fault-value",
        "The right place, but this value does not mend it.",
        "With this value the network still does not do what it should.",
        "By which rule of the Brief is this value worked out?",
    ),
    _said(
        "fault-value-unreadable",
        "What stands here is no value of that place.",
        "A device would refuse it.",
        "How do values look that stand under this heading on the sheets Found?",
    ),
    _said(
        "fault-called-harmless",
        "This line does harm: symptoms come back when it is mended.",
        "Called harmless it would be left as it is, and the users still complain.",
        "What becomes of a packet that needs this setting?",
    ),
    _said(
        "fault-harmless-called-cause",
        "This line does no harm: nothing comes back when it is mended.",
        "Time goes into a repair that helps nobody.",
        _WHICH,
    ),
    _said(
        "fault-test-shows-nothing",
        "This test comes out the same, whether this fault is mended or not.",
        "It cannot tell whether your repair was right.",
        "What has to pass the place that you mended?",
    ),
    _said(
        "fault-no-such-test",
        "Sheet Tests has no test of that name.",
        "Nobody could make it.",
        "How are the tests called on sheet Tests?",
    ),
    _said(
        "symptom-has-no-fault",
        "This is as it should be: no fault is behind it.",
        "Nothing changes here when the fault is mended.",
        "What would you see here in the network as planned?",
    ),
    _said(
        "symptom-not-explained",
        "This does come from a fault.",
        "It comes back when the fault is mended.",
        "What would you see here in the network as planned?",
    ),
    _said(
        "symptom-other-fault",
        "This comes from another fault, from none that you name rightly, or from more than one.",
        "Mending what you name does not bring all of it back.",
        "Which packets does this need, and which of your lines do they meet?",
    ),
    _said(
        "symptom-line-not-found",
        "This does come from a fault, but from another line than the one that you name for it.",
        "The users still complain when all that you name is mended.",
        "Does this need a packet that meets the line which you name, on its way there or back?",
    ),
    _said(
        "test-as-found",
        "As the network is found, this comes out otherwise.",
        "Whoever expects this takes a right result for a surprise.",
        "Which settings does the packet meet on its way there, and the answer on its way back?",
    ),
    _said(
        "test-mended",
        "After the repair this comes out otherwise.",
        "Whoever expects this takes a good repair for a bad one, or the other way round.",
        "Does anything on its way differ from the plan once the fault is mended?",
    ),
    _said(
        "test-shows-nothing",
        "This comes out the same, whether the fault is mended or not.",
        "It cannot tell whether a repair was right, so calling it telling cancels one that is.",
        "Does the packet, or its answer, meet the place that you mended?",
    ),
    _said(
        "blank",
        "This cell is empty.",
        "The step is missing.",
        "What do you know already, even if you are not sure of all of it?",
    ),
    _said(
        "not-readable",
        "This cannot be read as what is asked here.",
        "Nobody could act on it.",
        "How is it written in the Brief?",
    ),
)
WORDS: Mapping[str, Explanation] = {each.mistake: each for each in _ALL}
"""By id, for ever: results count them."""


def explained(mistake: str, *, seen: str = "", derivation: str = "", text: str = "", hint: str = "") -> Explanation:
    """What is said of a mistake; seen: what was found when it was tried; text, hint: instead of its own."""
    said = WORDS[mistake]
    return replace(said, seen=seen, derivation=derivation, explanation=text or said.explanation, hint=hint or said.hint)


def hint_of(stays: str, fine: str) -> str:
    """A question about a symptom that stays with the trainee's repair, and one beside it that is as it should be; "" of none.

    >>> hint_of("S5", "S4")
    'S5 would stay as it is. S4 is as it should be: which part of the way of S5 does that clear?'
    >>> hint_of("S5", "")
    'S5 would stay as it is. What does it need that your line does not touch?'
    """
    if not stays:
        return ""
    if not fine:
        return f"{stays} would stay as it is. What does it need that your line does not touch?"
    return f"{stays} would stay as it is. {fine} is as it should be: which part of the way of {stays} does that clear?"


def seen_of(back: Sequence[str], away: Sequence[str]) -> str:
    """What comes back with a repair and what does not: "With this mended, S1 and S2 come back; S5 does not."

    >>> seen_of(["S1", "S2"], ["S5"])
    'With this mended, S1 and S2 come back; S5 does not.'
    >>> seen_of([], ["S1", "S4"])
    'With this mended, nothing comes back: S1 and S4 stay as they are.'
    """
    if not back:
        stay = "stays as it is" if len(away) == 1 else "stay as they are"
        return f"With this mended, nothing comes back: {listed(away)} {stay}." if away else ""
    comes = f"{listed(back)} {'comes' if len(back) == 1 else 'come'} back"
    rest = f"; {listed(away)} {'does' if len(away) == 1 else 'do'} not" if away else ""
    return f"With this mended, {comes}{rest}."
