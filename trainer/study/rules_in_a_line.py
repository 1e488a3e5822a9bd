"""The rule of each concept in a line, for whoever is past the full example and not yet alone."""

from collections.abc import Mapping

from trainer.lab.concepts import Concept

__all__ = ["RULES", "rule_of"]

RULES: Mapping[Concept, str] = {
    Concept.SIZE: "needed + 2, up to the next power of two; its exponent is the number of host bits; 32 minus it is the length.",
    Concept.PLACE: "start behind the network before; if that is no multiple of this network's own size, go up to the next one.",
    Concept.RANGE: "network + 1 is the first usable, network + size - 1 the broadcast, one below it the last usable.",
    Concept.GATEWAY: "the switch's own address in the VLAN of the station; who sends to another network asks for it first.",
    Concept.FIXED: "usable address no. n is the network address + n.",
    Concept.LINK: "a link is a network too: it lies behind the VLANs, and each end has an address of its own in it.",
    Concept.PORTS: "a station's port carries the VLAN of the station; a port that joins two switches here is routed.",
    Concept.ROUTES: "a route names a network that is not the switch's own, and the neighbour on the way there as next hop.",
    Concept.RETURN_PATH: "every switch on the way has to know both networks: the answer needs a way too.",
    Concept.POOL: "a pool begins behind the addresses that are kept, ends before the gateway, and hands out that gateway.",
    Concept.RELAY: "a relay agent sends the requests of its VLAN on to the server, with its own address there as giaddr.",
    Concept.SNOOPING: "trust the ports on which the server's messages come in, and no others.",
    Concept.BINDINGS: "a row a station: port, VLAN, MAC, address; learnt from a lease, or written by hand for a fixed one.",
    Concept.GUARD: "a guarded port lets through what its binding row says, and nothing else.",
}
"""At most two lines each."""
_ONES = "as many ones from the left as the length says, eight a number: 8 are 255, 1 to 7 are 128, 192, 224, 240, 248, 252, 254."
_OF_KINDS: Mapping[str, str] = {
    "subnets.mask": _ONES,
    "routes.mask": f"the mask of the network that the route names: {_ONES}",
}
"""Of questions that ask for something else than the rest of their concept."""


def rule_of(ask: str, concept: Concept) -> str:
    """The rule in a line by which a kind of question is answered."""
    return f"Rule: {_OF_KINDS.get(ask, RULES[concept])}"
