"""Packets and what becomes of them. Nothing vanishes: a packet ends as Delivered or as Dropped, and a drop says why."""

from enum import Enum
from typing import NamedTuple

from trainer.network.addresses import Mac
from trainer.network.devices import Missing, SettingId

__all__ = ["INITIAL_TTL", "Delivered", "Dropped", "Icmp", "Outcome", "Packet", "Payload", "Reason"]

INITIAL_TTL = 64
"""The initial time to live (RFC 1700 default); each switch takes one off (RFC 1812 5.3.1)."""


class Payload(Enum):
    """What a packet carries, as far as a switch looks at it. Told by the op field, not by the port number (RFC 2131 2)."""

    # each stands once; the hash of its word would be asked for with every packet
    __hash__ = object.__hash__

    DATA = "data"
    DHCP_REQUEST = "DHCP client message"
    DHCP_REPLY = "DHCP server message"


class Reason(Enum):
    """Why a packet was dropped, in words that finish "dropped at A: ..."."""

    NO_ADDRESS = "the station has no address"
    NO_GATEWAY = "the station has no gateway and the destination is not in its own network"
    GATEWAY_ELSEWHERE = "the gateway is not in the station's own network"
    PORT_DOWN = "the port carries no VLAN and no address"
    NO_ROUTE = "no route leads to the destination"
    NO_ANSWER = "nobody answers at that address"
    DUPLICATE_ADDRESS = "two devices claim one address"
    NOT_A_HOST = "the destination is a network address or a broadcast address"
    SOURCE_NOT_A_HOST = "a switch forwards nothing from an address that no device may have"
    NEXT_HOP_IS_A_HOST = "the next hop is a station, which forwards nothing"
    TTL_EXPIRED = "the packet was in a routing loop until its time to live was used up"
    SOURCE_NOT_BOUND = "source guard found no binding row for the sender"
    PORT_NOT_TRUSTED = "a DHCP server message came in on a port that is not trusted"
    NO_RELAY = "no relay agent listens on the VLAN and the server is not in it"
    NO_SERVER_THERE = "no DHCP server is at the relay target"
    NO_POOL = "the server has no pool for the network the request came from"
    POOL_EMPTY = "the pool has no free address left"
    SERVER_REFUSES = "the server does not start with a pool that goes past its own network"
    NOT_ITS_ADDRESS = "the server has no such lease in the network the request came from"
    NOT_THE_RELAY = "the reply arrived at a device that did not relay the request"
    ANOTHER_ANSWERS = "another device has the address and took the packet"
    OUT_OF_EARSHOT = "the two stations are not in one broadcast domain"

    @property
    def icmp(self) -> "Icmp | None":
        """What the switch that dropped the packet tells its sender; None where that is nothing, or open (Icmp)."""
        return _ICMP.get(self)


class Icmp(Enum):
    """ICMP messages about a dropped packet: type and code (RFC 792, RFC 1812 4.3.3.1).

    Those that a switch sends by its routing table alone. Host unreachable (3, 1) is open: it rests on a neighbour's silence.
    """

    NETWORK_UNREACHABLE = (3, 0)
    TIME_EXCEEDED = (11, 0)


_ICMP = {
    Reason.NO_ROUTE: Icmp.NETWORK_UNREACHABLE,
    Reason.TTL_EXPIRED: Icmp.TIME_EXCEEDED,
}
"""No route: RFC 1812 5.2.7.1; time to live used up: RFC 1812 5.3.1."""


class Packet(NamedTuple):
    """An IPv4 packet in a frame; a tuple with plain numbers for addresses because the inner loop wants it so."""

    source: int
    destination: int
    source_mac: Mac
    payload: Payload = Payload.DATA


class Delivered(NamedTuple):
    """The packet arrived at this device. A tuple, as Dropped is: each trial ends in one of them."""

    at: str
    path: tuple[str, ...] = ()
    """The devices passed, in order, the first sender and the receiver among them."""


class Dropped(NamedTuple):
    """The packet was dropped at this device, for this reason, because of this setting or its absence."""

    at: str
    reason: Reason
    because: SettingId | Missing
    path: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"dropped at {self.at}: {self.reason.value} ({self.because})"


Outcome = Delivered | Dropped
