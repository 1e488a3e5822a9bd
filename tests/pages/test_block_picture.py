"""The picture of a block cut up shows every network where it lies, and tells it in words."""

from xml.etree import ElementTree as ET

from drawn_labs import bakery, changed, draw, exercise_of

from trainer.lab.form import SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import SECTIONS, subnets
from trainer.pages.block_picture import draw_block
from trainer.pages.blocks import Figure, Table
from trainer.pages.handout import handout_document, worked_examples
from trainer.study.steps import worked_row

SVG = "{http://www.w3.org/2000/svg}"


def bars(lab, part):
    root = ET.fromstring(draw_block(lab).svg)
    groups = [group for group in root.iter(f"{SVG}g") if group.get("data-part") == part]
    return {str(group.get("data-name")): group.find(f"{SVG}rect") for group in groups}


def test_a_network_twice_as_long_is_drawn_twice_as_long_and_behind_the_one_before():
    lab = bakery()
    found = bars(lab, "network")
    assert list(found) == ["VLAN 30", "VLAN 20", "VLAN 40", "VLAN 50", "VLAN 10", "link A-B"]
    left, width = ({name: float(bar.get(what)) for name, bar in found.items()} for what in ("x", "width"))
    assert abs(width["VLAN 30"] - 4 * width["VLAN 20"]) < 0.05
    assert abs(left["VLAN 20"] - left["VLAN 30"] - width["VLAN 30"]) < 0.05
    assert list(bars(lab, "free")) == ["10.20.2.244"]


def test_all_of_it_is_told_in_words():
    for lab in (bakery(), *draw(exercise_of(changed(order="as listed")), 2)):
        told = draw_block(lab).description
        for vlan in lab.vlans:
            network = subnets.network_of(SoFar(lab), vlan.number)
            assert f"VLAN {vlan.number}: {network}, {network.num_addresses} addresses" in told
    assert "From 10.20.2.244 to 10.20.3.255 nothing lies." in draw_block(bakery()).description


def test_a_handout_to_practise_by_shows_the_steps_and_the_picture_of_another_lab():
    (other,) = draw(exercise_of(changed()), 1)
    lab = bakery()
    rows = [worked_row(other, section, SECTIONS[section].rows(other)[0]) for section in ("subnets", "pools")]
    (shown,) = worked_examples(rows, other)
    assert [type(block) for block in shown.blocks] == [Figure, Table, Table]
    (without_places,) = worked_examples(rows[1:], other)
    assert [type(block) for block in without_places.blocks] == [Table]
    document = handout_document(lab, "Fill it in.", derive_key(lab), (), (shown,))
    assert shown in document.blocks
