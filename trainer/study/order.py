"""In which order concepts are learnt: one opens when those it rests on are secure."""

from collections.abc import Collection, Mapping

from trainer.lab.concepts import Concept

__all__ = ["RESTS_ON", "called", "is_open", "leads_to"]

_C = Concept
RESTS_ON: Mapping[Concept, tuple[Concept, ...]] = {
    _C.SIZE: (),
    _C.PLACE: (_C.SIZE,),
    _C.RANGE: (_C.PLACE,),
    _C.GATEWAY: (_C.PLACE,),
    _C.FIXED: (_C.PLACE,),
    _C.LINK: (_C.RANGE, _C.GATEWAY, _C.FIXED),
    _C.PORTS: (),
    _C.ROUTES: (_C.LINK,),
    _C.RETURN_PATH: (_C.ROUTES,),
    _C.POOL: (_C.RETURN_PATH,),
    _C.RELAY: (_C.POOL,),
    _C.SNOOPING: (_C.RELAY,),
    _C.BINDINGS: (_C.SNOOPING,),
    _C.GUARD: (_C.BINDINGS,),
}
"""What has to be secure before a concept opens."""


def is_open(concept: Concept, secure: Collection[Concept]) -> bool:
    """Whether all that it rests on is secure."""
    return all(each in secure for each in RESTS_ON[concept])


def leads_to(concept: Concept) -> tuple[Concept, ...]:
    """The concepts that rest on it, in order."""
    return tuple(other for other in Concept if concept in RESTS_ON[other])


def called(text: str) -> Concept | None:
    """The concept that is called so, capital or small letters, blanks or hyphens; None where none is.

    >>> called("return-path"), called("sise")
    (<Concept.RETURN_PATH: ('Return path', <Area.ROUTING: 'Routing'>)>, None)
    """
    wanted = " ".join(text.replace("-", " ").casefold().split())
    return next((each for each in Concept if each.title.casefold() == wanted), None)
