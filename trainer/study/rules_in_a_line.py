"""The rule of each concept in a line, for whoever is past the full example and not yet alone."""

from collections.abc import Mapping

from trainer.lab.concepts import Concept

__all__ = ["RULES"]

RULES: Mapping[Concept, str] = {
    Concept.SIZE: "needed + 2, up to the next power of two; its exponent is the number of host bits; 32 minus it is the length.",
    Concept.PLACE: "the next address behind the network before that is a multiple of this network's own size.",
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
