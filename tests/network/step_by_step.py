"""The reference for all that the network remembers: every packet goes step by step, and nothing is worked out ahead."""

from collections.abc import Iterator
from contextlib import contextmanager
from unittest.mock import patch

from trainer.network import forwarding, paths, topology
from trainer.network.packets import Packet

__all__ = ["nothing_remembered"]


@contextmanager
def nothing_remembered() -> Iterator[None]:
    """Networks that are switched on while it lasts look up everything each time, as they do while somebody listens."""

    def sent_by_itself(running, station, destination):
        host = running.host(station)
        packet = Packet(0 if host is None else host.address, destination, station.mac)
        return forwarding._sent(running, station, packet)

    with (
        patch.object(topology, "Memory", lambda **_: paths.Memory(keeps=False)),
        patch.object(forwarding, "_forward", forwarding._walked),
        patch.object(forwarding, "_own_sent", sent_by_itself),
        patch.object(forwarding, "_own_uplink", lambda *_: None),
    ):
        yield
