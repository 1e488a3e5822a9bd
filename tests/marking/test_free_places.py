"""In a free plan the right value of a network that is not placed yet takes nothing away from what is right already."""

from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from itertools import combinations

from filled_forms import LAB as BAKERY
from filled_forms import filled

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import read_answers
from trainer.lab.form import CellRef, SoFar
from trainer.lab.questions import QUESTIONS, cell_called, links, subnets
from trainer.lab.scenario import Order
from trainer.marking.marker import mark
from trainer.marking.plans import plans_of
from trainer.marking.practice import Progress, after_save
from trainer.marking.practice_cells import AskedAbout, answer_to
from trainer.marking.standard import Standard

LAB = replace(BAKERY, rules=replace(BAKERY.rules, order=Order.FREE))
OWN = {("subnets.network", "40"): "10.20.1.0", ("subnets.prefix", "40"): "26"}
"""The key has VLAN 30's network, a /23, around this place, and the block is a /22."""
NETWORKS = [
    *(CellRef(subnets.NETWORK_ADDRESS.id, subnets.row_of(vlan.number)) for vlan in LAB.vlans),
    *(cell_called("links.network", link.name) for link in LAB.links),
]


def standard_with(texts: dict[CellRef, str]) -> Standard:
    return Standard(plans_of(LAB, read_answers(filled(texts))))


def expected(texts: dict[CellRef, str]) -> dict[CellRef, IPv4Network]:
    standard, key = standard_with(texts), SoFar(LAB)
    found = {}
    for cell in NETWORKS:
        length = subnets.PREFIX_LENGTH_OF if cell.question.startswith("subnets") else links.LINK_MASK
        address = standard.expected(QUESTIONS[cell.question], cell.row)
        found[cell] = IPv4Network((address, key.value(length, cell.row)))
    return found


def test_the_networks_that_are_left_find_room_beside_those_that_are_right():
    own = {cell_called(*name): text for name, text in OWN.items()}
    found = expected(own)
    mine = cell_called("subnets.network", "40")
    assert found[cell_called("subnets.network", "30")] == IPv4Network("10.20.2.0/23")
    others = [network for cell, network in found.items() if cell != mine]
    everything = [IPv4Network("10.20.1.0/26"), *others]
    assert all(network.subnet_of(LAB.block) for network in everything)
    assert not [pair for pair in combinations(everything, 2) if pair[0].overlaps(pair[1])]


def test_where_the_key_s_place_is_free_it_stays():
    assert expected({}) == expected(key_texts(LAB))
    assert expected({})[cell_called("subnets.network", "30")] == IPv4Network("10.20.0.0/23")


def test_a_network_whose_length_is_wrong_keeps_the_room_that_it_will_need():
    own = {cell_called("subnets.network", "30"): "10.20.2.0", cell_called("subnets.prefix", "30"): "24"}
    found = expected(own)
    right = IPv4Network("10.20.2.0/23")
    assert not [cell for cell, network in found.items() if cell.row != "30" and network.overlaps(right)]


def test_answers_that_are_asked_for_one_by_one_never_make_wrong_what_was_right():
    texts = {cell_called(*name): text for name, text in OWN.items()}
    asked = [CellRef(question.id, subnets.row_of(30)) for question in subnets.SUBNETS.questions_in(LAB)]
    tried = after_save(Progress(lab=LAB.lab_number), mark(LAB, filled({**texts, **dict.fromkeys(asked, "x")})), (1,))
    for ref in asked:
        marked = mark(LAB, filled(texts))
        cell = next(each for each in marked.cells if (each.question, each.row) == (ref.question, ref.row))
        found = answer_to(AskedAbout(ref=ref, name="Subnets D8", cell=cell), tried, LAB)
        texts[ref] = found.words.removeprefix("Subnets D8: ").partition(" (")[0]
    marked = mark(LAB, filled(texts))
    written = [each for each in marked.cells if each.given]
    assert len(written) == 9
    assert [each for each in written if not each.verdict.is_full] == []
    assert IPv4Address(texts[asked[0]]) in IPv4Network("10.20.2.0/23")
