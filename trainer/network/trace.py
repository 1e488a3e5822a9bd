"""Why a packet fared as it did, step by step: where, what was looked up, what was found, and which setting decided it.

Steps are made only while somebody listens (Running.observed_by), so that trials by the thousand cost nothing more.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

from trainer.network.devices import Missing, SettingId

__all__ = ["Lookup", "Observer", "Step", "Tracer", "render"]


class Lookup(Enum):
    """What a device looks up, in words that take the subject of the step."""

    SENDING = "sends {}"
    ROUTE = "looks up the way to {}"
    NEIGHBOUR = "asks who has {}"
    TRUST = "checks a DHCP server message that comes in on {}"
    BINDING = "looks in its binding table for {}"
    RECEIVED = "receives the packet to {}"
    DROPPED = "drops {}"
    RELAY = "hears the request of {}"
    POOL = "looks for the pool whose network holds {}"
    ADDRESS = "looks for a free address in pool {}"
    CHECK = "checks whether {} is in use"
    ANSWER = "answers with {}"
    DELIVERY = "hands the answer on to {}"
    LEARNING = "sees the lease of {}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that a device looked up on a packet's way."""

    at: str
    """The device."""
    lookup: Lookup
    subject: str
    """What it was looked up for: an address, a port, a station."""
    found: str
    """What came of it, in words."""
    decided_by: tuple[SettingId | Missing, ...] = ()
    """The settings, there or missing, that made it so; the likeliest to be at fault first."""


class Observer(Protocol):
    """Whoever wants to know what devices look up."""

    def note(self, step: Step) -> None:
        """Called for each step when it is made."""


@dataclass(slots=True)
class Tracer:
    """An observer that keeps the steps."""

    steps: list[Step] = field(default_factory=list)

    def note(self, step: Step) -> None:
        """Keeps the step; a drop that ends an exchange is told by the drop of its packet, if there was one."""
        if not (step.lookup is Lookup.DROPPED and self.steps and self.steps[-1].lookup is Lookup.DROPPED):
            self.steps.append(step)


def render(steps: Sequence[Step]) -> tuple[str, ...]:
    """A line for each step: "A looks up the way to 172.16.20.21: static route 172.16.20.0/24, next hop 172.16.0.2."."""
    return tuple(f"{step.at} {step.lookup.value.format(step.subject)}: {step.found}." for step in steps)
