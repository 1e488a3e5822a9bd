"""Random configurations of every device, as no form would allow them: no trial raises, every trial ends.

TRAINER_NIGHTLY=1 tries 20,000 of them, else 300.
"""

import os
import random

from every_trial import drops
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from random_configurations import PORTS, address, network

from trainer.network.devices import Cable, Network, Port, PortRef, Switch, SwitchName
from trainer.network.dhcp import start
from trainer.network.topology import Lease, Running

COUNT = 20_000 if os.environ.get("TRAINER_NIGHTLY") else 300


@settings(max_examples=COUNT, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9))
def test_whatever_is_configured_every_trial_ends_in_an_outcome(seed: int) -> None:
    rng = random.Random(seed)
    made = network(rng)
    for drop in drops(made, tuple(address(rng) for _ in range(4))):
        event(drop.reason.name)
        assert str(drop).startswith("dropped at ")


def test_the_random_configurations_are_not_all_dead():
    """Else they would try nothing: some grant leases, some deliver, and every part of the model is met."""
    leases = sum(
        isinstance(each, Lease) for seed in range(200) for each in start(network(random.Random(seed)))[1].values()
    )
    assert leases > 10
    reasons = {drop.reason for seed in range(200) for drop in drops(network(random.Random(seed)))}
    assert len(reasons) >= 13


def test_a_ring_of_cables_ends_a_broadcast():
    """No shape of a lab holds a ring; a cable plugged in wrongly makes one."""
    made = Network(
        switches=tuple(
            Switch(name=SwitchName(name), ports=tuple(Port(name=port, vlan=10) for port in PORTS)) for name in "ABC"
        ),
        cables=tuple(
            Cable(PortRef(SwitchName(one), PORTS[0]), PortRef(SwitchName(other), PORTS[1]))
            for one, other in ("AB", "BC", "CA", "AA")
        ),
    )
    assert set(Running(made).domain((SwitchName("A"), 10))) == {("A", 10), ("B", 10), ("C", 10)}
