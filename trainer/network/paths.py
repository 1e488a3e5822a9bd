"""Who is next to whom, how packets go from one to the next, and what is remembered of it while a network is in operation."""

from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

from trainer.network.addresses import Mac
from trainer.network.devices import Interface, Missing, PortName, PortRef, SettingId, Station, SwitchName
from trainer.network.packets import Dropped, Outcome, Packet

__all__ = ["ForwardingPath", "Ingress", "Member", "Memory", "NextHop", "Segment", "WayToServer"]

K = TypeVar("K")
V = TypeVar("V")

Segment = tuple[SwitchName, int | PortName]
"""A piece of layer 2 on one switch: a VLAN, or a routed port by itself. Cables join segments to broadcast domains."""


class Member(NamedTuple):
    """Somebody who can send and hear frames on a segment: a station, or a switch with an interface there."""

    name: str
    segment: Segment
    mac: Mac
    station: Station | None = None
    interface: Interface | None = None

    @property
    def who(self) -> tuple[str, Segment, Mac, PortRef | None]:
        """Who it is and where, whatever else is set on it; of a station with its port."""
        return self.name, self.segment, self.mac, None if self.station is None else self.station.at


@dataclass(frozen=True, slots=True)
class Ingress:
    """A port as the way into a segment, and what it checks of the frames that come in."""

    port: PortRef
    segment: Segment
    checks_replies: bool
    """Whether DHCP snooping looks for server messages here."""
    is_trusted: bool
    is_guarded: bool

    @property
    def checks(self) -> bool:
        """Whether it looks at frames at all."""
        return self.is_guarded or self.checks_replies


class NextHop(NamedTuple):
    """To whom a device hands packets for an address."""

    to: Member
    entered: tuple[Ingress, ...]
    """The ports on the way there that look at frames."""
    source_mac: Mac
    because: SettingId | Missing
    """The setting that names this neighbour: a route, a gateway, or the interface of the connected network."""

    @property
    def is_guarded(self) -> bool:
        """Whether source guard looks at packets on the way there."""
        return any(each.is_guarded for each in self.entered)


class ForwardingPath(NamedTuple):
    """What becomes of packets for an address from a switch on, whoever sends them, if no port on the way stops them."""

    end: Outcome
    """With the path from that switch on."""
    handed_on: int
    """So many switches hand them on, and take one off their time to live."""
    guarded: tuple[tuple[int, NextHop], ...] = ()
    """Where source guard looks at them, each with how many switches they have passed by then."""


class WayToServer(NamedTuple):
    """Who takes the messages of the clients of a segment to the DHCP server."""

    relay: SwitchName | None = None
    relay_interface: Interface | None = None
    """None, as is the relay agent, where the server is in the clients' own broadcast domain (giaddr 0)."""


class _KeepsNothing(dict[Any, Any]):
    """Recalls nothing, so that whoever listens hears every look-up each time."""

    def __setitem__(self, key: Any, value: Any) -> None:
        pass


class Memory:
    """What forwarding has found out: where devices send packets, and what became of those."""

    def __init__(self, *, keeps: bool = True) -> None:
        """keeps: whether anything is remembered at all."""
        kept = dict[Any, Any] if keeps else _KeepsNothing
        self.hops: dict[tuple[SwitchName, int], NextHop | Dropped] = kept()
        """To whom a switch hands packets for an address."""
        self.neighbours: dict[tuple[SwitchName, int, SettingId], NextHop | Dropped] = kept()
        """To whom a switch hands all that a route takes, by its next hop."""
        self.paths: dict[tuple[SwitchName, int], ForwardingPath] = kept()
        """How packets for an address go from a switch on."""
        self.gateways: dict[str, NextHop | Dropped] = kept()
        """To whom a station hands what is not for its own network."""
        self.uplinks: dict[str, NextHop | Dropped] = kept()
        """The same for its own packets, through all that looks at them, or what stops them."""
        self.fates: dict[tuple[str, Packet], Outcome] = kept()
        """What became of such a packet when the station sent it: of two pings, there and back, each way is the other's."""
        self.own_fates: dict[tuple[str, int], Outcome] = kept()
        """What became of a station's own packet to an address."""
        self.to_server: dict[Segment, WayToServer] = kept()
        """How the server hears the clients of a segment, where the first way that there is gets their messages to it."""
        self.from_server: dict[Segment, WayToServer] = kept()
        """Ways by which its answers get back to them."""

        self._kept: tuple[dict[Any, Any], ...] = (
            self.hops, self.neighbours, self.paths, self.gateways, self.uplinks, self.fates, self.own_fates,
            self.to_server, self.from_server,
        )  # fmt: skip
        self._stopped: list[tuple[dict[Any, Any], Any]] = []
        """Where it is remembered that something was stopped."""

    def keep(self, where: dict[K, V], key: K, found: V) -> V:
        """Remembers in one of these what was found, and gives it back."""
        where[key] = found
        if isinstance(found, Dropped):
            self._stopped.append((where, key))
        return found

    def keep_path(self, switch: SwitchName, destination: int, path: ForwardingPath) -> ForwardingPath:
        """Remembers how packets go, and gives it back."""
        self.paths[switch, destination] = path
        if isinstance(path.end, Dropped):
            self._stopped.append((self.paths, (switch, destination)))
        return path

    def forget(self) -> None:
        """When somebody joins whose address was another's already."""
        for each in self._kept:
            each.clear()
        self._stopped.clear()

    def forget_drops(self) -> None:
        """When somebody joins, or a row is learnt: that only lets through what was stopped before."""
        for where, key in self._stopped:
            where.pop(key, None)
        self._stopped.clear()
