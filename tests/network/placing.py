"""Networks placed one behind the other by the rule that the key goes by, to hold against published examples."""

from collections.abc import Sequence
from ipaddress import IPv4Network

from trainer.lab.plan import after
from trainer.network.addresses import network_at


def placed(block: IPv4Network, lengths: Sequence[int]) -> list[IPv4Network]:
    networks: list[IPv4Network] = []
    for length in lengths:
        previous = networks[-1] if networks else None
        networks.append(network_at(after(previous, block, length), length))
    return networks
