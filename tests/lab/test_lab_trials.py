"""Trials of a lab as values: made on one network and on another, once and once more."""

import pytest
from drawn_labs import bakery

from trainer.lab.build import build
from trainer.lab.key import derive_key
from trainer.lab.trials import TrialKind, try_network
from trainer.network.devices import Network
from trainer.network.packets import Delivered, Dropped, Reason
from trainer.network.topology import Running
from trainer.network.trace import render
from trainer.network.trials import traced, without_guard


@pytest.fixture(scope="module")
def lab():
    return bakery()


@pytest.fixture(scope="module")
def network(lab) -> Network:
    return build(lab, derive_key(lab)).network


def tried_on(lab, network):
    return try_network(lab, network, (), with_controls=False)


def test_every_trial_of_a_key_ends_alike_when_it_is_made_once_more(lab, network):
    running, tried = tried_on(lab, network)
    kinds = {each.kind for each in tried}
    others = {TrialKind.RENEWAL, TrialKind.LAST_LEASE, TrialKind.BINDINGS, TrialKind.REACH, TrialKind.BROADCAST}
    assert kinds == set(TrialKind) - others, "those need visitors, or stations that have been at work for a while"
    for each in tried:
        assert each.trial.run(running) == each


def test_a_trial_that_was_made_can_be_made_once_more_with_its_steps(lab, network):
    running, tried = tried_on(lab, network)
    for each in tried:
        again = traced(each.trial.run, running)
        assert again.result == each
        assert render(again.steps)


def test_a_trial_is_made_on_any_network_of_the_lab(lab, network):
    forged = next(each for each in tried_on(lab, network)[1] if each.kind is TrialKind.FORGED_MAC)
    bare = Running(network)
    assert isinstance(forged.outcome, Dropped)
    assert forged.outcome.reason is Reason.SOURCE_NOT_BOUND
    assert isinstance(forged.trial.run(without_guard(bare)).outcome, Dropped), "without a lease it has no address"
    running, _ = tried_on(lab, network)
    assert isinstance(forged.trial.run(running, without_guard(running)).control, Delivered)
