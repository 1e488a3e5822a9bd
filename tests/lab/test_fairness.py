"""What two trainees could copy from each other."""

from fractions import Fraction

from drawn_labs import bakery, changed, draw, exercise_of

from trainer.lab.fairness import equal_cells


def test_a_lab_beside_itself_has_nothing_but_equal_cells() -> None:
    assert {each.share for each in equal_cells([bakery(), bakery()])} == {Fraction(1)}


def test_a_single_lab_is_compared_with_nobody() -> None:
    assert equal_cells([bakery()]) == ()


def test_no_address_and_no_mac_is_equal_between_two_trainees_but_every_mask_is() -> None:
    """Addresses by the slots, masks because sizes are drawn for the class."""
    shares = {each.kind: each.share for each in equal_cells(draw(exercise_of(changed()), 24))}
    assert shares["an address"] == shares["a MAC address"] == 0
    assert shares["a dotted mask"] == shares["a prefix length"] == 1
    assert 0 < shares["a port"] < Fraction(1, 5)
