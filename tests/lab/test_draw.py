"""Drawing labs: the same secret gives the same lab, every trainee gets another one, and all are equally hard."""

import random
from ipaddress import IPv4Network

import pytest
from drawn_labs import SECRET, bakery, changed, draw, exercise_of, shaped
from hypothesis import example, given
from hypothesis import strategies as st

from trainer.lab.draw import lab_number, seed_of, slot_of
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import CellRef
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM
from trainer.lab.scenario import GatewayPlace, Scenario, Trainee

ANOTHER_SECRET = b"another secret of another school"
THIRTY = tuple({"id": f"t{number:02}", "name": "", "group": "", "attempt": ""} for number in range(1, 31))
CHAIN = {"A": "", "B": "A", "C": "B"}


def class_of_thirty(**choices: str) -> Exercise:
    return exercise_of(changed(tables={"trainees": THIRTY}, **choices))


@pytest.fixture(scope="module")
def labs() -> tuple[Scenario, ...]:
    return draw(class_of_thirty(), 30)


# --- Secrets ----------------------------------------------------------------------------------------------------------


def test_the_same_secret_draws_the_same_labs(labs):
    assert draw(class_of_thirty(), 30) == labs


def test_another_secret_draws_other_labs(labs):
    others = draw(class_of_thirty(), 30, ANOTHER_SECRET)
    for one, other in zip(labs, others, strict=True):
        assert one.lab_number != other.lab_number
        assert [vlan.number for vlan in one.vlans] != [vlan.number for vlan in other.vlans]
        assert [station.mac for station in one.stations] != [station.mac for station in other.stations]


@pytest.mark.parametrize("words", [("HARBOUR-2", "t02", "1"), ("HARBOUR-3", "t01", "1"), ("HARBOUR-2", "t01", "2")])
def test_a_new_code_another_trainee_or_a_further_attempt_has_a_seed_of_its_own(words):
    assert seed_of(SECRET, *words) != seed_of(SECRET, "HARBOUR-2", "t01", "1")


def test_words_run_together_do_not_make_the_same_seed():
    assert seed_of(SECRET, "ab", "c") != seed_of(SECRET, "a", "bc")


def test_a_seed_is_a_keyed_hash_of_its_words():
    """RFC 4231 4.3 (test case 2: key "Jefe"), value from memory: HMAC-SHA256 of a single word."""
    wanted = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert f"{seed_of(b'Jefe', 'what do ya want for nothing?'):064x}" == wanted


def test_a_further_attempt_is_a_new_lab():
    again = changed(tables={"trainees": (THIRTY[0], {**THIRTY[1], "attempt": "2"})})
    first, second = draw(class_of_thirty(), 2)[1], draw(exercise_of(again), 2)[1]
    assert first.lab_number != second.lab_number
    assert [station.mac for station in first.stations] != [station.mac for station in second.stations]


# --- A class of thirty ------------------------------------------------------------------------------------------------


def test_thirty_trainees_have_blocks_of_their_own(labs):
    blocks = [lab.block for lab in labs]
    assert not any(one.overlaps(other) for place, one in enumerate(blocks) for other in blocks[:place])
    assert all(block.subnet_of(IPv4Network("172.16.0.0/12")) for block in blocks)


@pytest.mark.parametrize(
    ("ranges", "labs_apart"),
    [
        pytest.param("172.16.0.0/17", 32, id="two blocks to spare"),
        pytest.param("10.9.0.0/18, 172.16.0.0/18", 32, id="two ranges"),
        pytest.param("10.9.0.0/18, 192.168.4.0/22, 172.16.0.0/19, 172.17.0.0/20", 29, id="one block too few"),
        pytest.param("172.16.0.0/22", 1, id="a single block"),
    ],
)
def test_blocks_are_shared_only_when_the_ranges_are_used_up(ranges, labs_apart):
    exercise = class_of_thirty(address_ranges=ranges, block_length="/22")
    assert exercise.separate_labs(22) == labs_apart
    drawn = draw(exercise, 30)
    assert all(any(lab.block.subnet_of(each) for each in exercise.address_ranges) for lab in drawn)
    assert len({lab.block for lab in drawn}) == min(30, labs_apart)


def test_a_range_smaller_than_a_block_is_passed_over():
    exercise = class_of_thirty(address_ranges="192.168.9.0/24, 172.16.0.0/12", block_length="/22")
    assert all(lab.block.subnet_of(IPv4Network("172.16.0.0/12")) for lab in draw(exercise, 30))


def test_a_slot_past_the_last_block_is_refused():
    exercise = class_of_thirty(address_ranges="172.16.0.0/22", block_length="/22")
    common = draw_for_class(exercise, random.Random(1))
    with pytest.raises(ValueError, match=r"^a slot past the last block$"):
        draw_scenario(exercise, common, exercise.trainees[0], "AAA-AAAA", 1, random.Random(1))


def test_all_labs_of_a_class_are_equally_hard(labs):
    """As hard for all: same prefix lengths, same number of rows in every section, row by row."""
    assert len({tuple(vlan.addresses_needed for vlan in lab.vlans) for lab in labs}) == 1
    assert len({tuple(len(section.rows(lab)) for section in FORM) for lab in labs}) == 1
    assert len({prefix_lengths(lab) for lab in labs}) == 1
    assert len({(lab.link_length, lab.block.prefixlen) for lab in labs}) == 1


def prefix_lengths(lab: Scenario) -> tuple[int, ...]:
    key = derive_key(lab)
    return tuple(value for cell, value in key.values.items() if cell.question in {"subnets.prefix", "links.mask"})


def test_no_two_labs_share_a_vlan_plan_an_address_or_a_mac(labs):
    """Nobody can copy a neighbour's cells."""
    assert len({tuple(vlan.number for vlan in lab.vlans) for lab in labs}) == 30
    assert len({station.mac for lab in labs for station in lab.stations}) == sum(len(lab.stations) for lab in labs)
    addresses = [
        {value for cell, value in derive_key(lab).values.items() if cell.question == "subnets.gateway"} for lab in labs
    ]
    assert not any(one & other for place, one in enumerate(addresses) for other in addresses[:place])


def test_lab_numbers_are_distinct(labs):
    assert len({lab.lab_number for lab in labs}) == 30
    many = {lab_number(SECRET, "HARBOUR-2", Trainee(id=f"n{number}")) for number in range(10_000)}
    assert len(many) == 10_000


def test_a_lab_number_can_be_drawn_again_when_it_is_taken():
    tries: list[str] = []
    for _ in range(20):
        tries.append(lab_number(SECRET, "HARBOUR-2", Trainee(id="t01"), tries))
    assert len(set(tries)) == 20


@given(st.text(min_size=1, max_size=20), st.integers(1, 99))
def test_a_lab_number_has_no_letters_that_are_taken_for_one_another(trainee, attempt):
    number = lab_number(SECRET, "HARBOUR-2", Trainee(id=trainee, attempt=attempt))
    assert len(number) == 8
    assert number[3] == "-"
    assert not set(number) & set("IO01")
    assert number == number.upper()


@pytest.mark.parametrize("count", [1, 2, 7, 29])
def test_more_trainees_change_no_earlier_lab(labs, count):
    earlier = exercise_of(changed(tables={"trainees": THIRTY[:count]}))
    assert draw(earlier, count) == labs[:count]


# --- One lab ----------------------------------------------------------------------------------------------------------

SHAPES = [
    pytest.param(changed(), id="two switches"),
    pytest.param(changed(tables=shaped(CHAIN)), id="a chain of three"),
    pytest.param(changed(gateway="last usable", link_lengths="/30, /31", lease_hours="1, 8-12"), id="last usable"),
]


@pytest.fixture(params=SHAPES, scope="module")
def drawn(request) -> tuple[Exercise, tuple[Scenario, ...]]:
    exercise = exercise_of(request.param)
    return exercise, draw(exercise, 20)


def test_vlan_numbers_are_distinct_and_from_the_rows_choice(drawn):
    exercise, scenarios = drawn
    for lab in scenarios:
        numbers = [vlan.number for vlan in lab.vlans]
        assert len(set(numbers)) == len(numbers)
        assert all(number in row.vlans for number, row in zip(numbers, exercise.networks, strict=True))


def test_ports_are_distinct_and_from_the_switches_ranges(drawn):
    exercise, scenarios = drawn
    rows = {switch.name: switch for switch in exercise.switches}
    for lab in scenarios:
        stations = [station.at for station in lab.stations]
        ends = [end for link in lab.links for end in (link.first, link.second)]
        assert len({*stations, *ends}) == len(stations) + len(ends)
        assert all(int(at.port) in rows[at.switch].station_ports for at in stations)
        assert all(int(at.port) in rows[at.switch].link_ports for at in ends)


def test_stations_stand_on_the_switch_of_their_network(drawn):
    _, scenarios = drawn
    for lab in scenarios:
        assert all(station.at.switch == lab.vlan_by_id[station.vlan].switch for station in lab.stations)


def test_mac_addresses_are_locally_administered_unicast(drawn):
    """RFC 9542 2.1.1 with table 2 (E6, E7): the local bit set, the group bit not, SLAP quadrant 00."""
    _, scenarios = drawn
    for lab in scenarios:
        macs = [station.mac for station in lab.stations]
        assert len(set(macs)) == len(macs)
        for mac in macs:
            first = int(mac[:2], 16)
            assert first & 0b1111 == 0b0010


def test_names_and_fixed_numbers_are_distinct(drawn):
    _, scenarios = drawn
    for lab in scenarios:
        names = [station.name for station in lab.stations]
        assert len(set(names)) == len(names)
        for vlan in lab.vlans:
            fixed = [each.fixed_number for each in lab.stations if each.vlan == vlan.id and each.fixed_number]
            assert len(set(fixed)) == len(fixed)


def test_fixed_numbers_leave_the_gateway_and_the_pool_alone(drawn):
    """Rules 4, 5 and 9: below the pool, not the gateway's, inside the needed addresses."""
    _, scenarios = drawn
    for lab in scenarios:
        lowest = 2 if lab.rules.gateway is GatewayPlace.FIRST_USABLE else 1
        for station in lab.stations:
            if station.fixed_number is not None:
                needed = lab.vlan_by_id[station.vlan].addresses_needed
                assert lowest <= station.fixed_number <= min(lab.rules.kept_for_fixed, needed)


def test_a_network_has_the_stations_that_its_row_asks_for(drawn):
    exercise, scenarios = drawn
    for lab in scenarios:
        for vlan, row in zip(lab.vlans, exercise.networks, strict=True):
            stations = [station for station in lab.stations if station.vlan == vlan.id]
            assert len(stations) == exercise.stations_of(row)
            assert len(lab.dhcp_stations(vlan.id)) == row.dhcp_stations
            assert sum(station.is_server for station in stations) == (row.number == exercise.server_network)


def test_what_is_drawn_lies_in_its_range(drawn):
    exercise, scenarios = drawn
    for lab in scenarios:
        assert lab.lease_hours in exercise.lease_hours
        assert lab.link_length in exercise.link_lengths
        assert all(
            vlan.addresses_needed in row.addresses_needed
            for vlan, row in zip(lab.vlans, exercise.networks, strict=True)
        )


def test_the_plan_fits_the_block_of_the_lab(drawn):
    """Rule 2: all networks lie inside, none overlaps another."""
    _, scenarios = drawn
    for lab in scenarios:
        key = derive_key(lab)
        networks = [
            IPv4Network((value, key.values[CellRef(length, cell.row)]))
            for cell, value in key.values.items()
            for network, length in (("subnets.network", "subnets.prefix"), ("links.network", "links.mask"))
            if cell.question == network
        ]
        assert len(networks) == len(lab.vlans) + len(lab.links)
        assert all(each.subnet_of(lab.block) for each in networks)
        assert not any(one.overlaps(other) for place, one in enumerate(networks) for other in networks[:place])


def test_links_name_the_switch_that_is_listed_first():
    """Rule 6: which end is the first decides which address it has."""
    (lab,) = draw(exercise_of(changed(tables=shaped({"B": "", "A": "B", "C": "A"}))), 1)
    assert [link.name for link in lab.links] == ["B-A", "A-C"]
    assert [link.name for link in bakery().links] == ["A-B"]


# --- Choices ----------------------------------------------------------------------------------------------------------


def test_rows_that_share_a_choice_never_draw_the_same_vlan():
    """Two rows with the same three numbers and one with a subset: only one way is left, and it is found."""
    cells = {("networks", row, "vlans"): text for row, text in enumerate(("12", "10, 12", "10-12", "20", "21"))}
    for lab in draw(exercise_of(changed(cells=cells)), 20):
        assert [vlan.number for vlan in lab.vlans] == [12, 10, 11, 20, 21]


def test_a_list_of_names_gives_no_name_twice():
    cells = {("networks", row, "names"): "Cranes, Gates, Lamps, Locks, Pumps" for row in range(5)}
    cells |= {("switches", row, "places"): "North quay, South quay" for row in range(2)}
    labs = draw(exercise_of(changed(cells=cells)), 20)
    assert all(len({vlan.name for vlan in lab.vlans}) == 5 for lab in labs)
    assert all({switch.place for switch in lab.switches} == {"North quay", "South quay"} for lab in labs)
    assert len({tuple(vlan.name for vlan in lab.vlans) for lab in labs}) > 10


def test_sizes_and_link_lengths_are_drawn_for_the_class_and_vary_from_class_to_class():
    exercise = class_of_thirty(link_lengths="/30, /31")
    classes = [draw_for_class(exercise, random.Random(seed)) for seed in range(40)]
    assert {each.link_length for each in classes} == {30, 31}
    assert len({each.addresses_needed for each in classes}) > 30


def test_a_block_is_the_smallest_that_holds_the_networks_or_the_one_asked_for():
    """15 to 30, 31 to 62, 63 to 126, 255 to 510 addresses and 11 to 14, and a /30: together they need a /22."""
    assert draw_for_class(class_of_thirty(), random.Random(1)).block_length == 22
    assert draw_for_class(class_of_thirty(block_length="/20"), random.Random(1)).block_length == 20


@pytest.mark.parametrize(("field", "ports"), [("station_ports", "1, 1, 1, 2"), ("link_ports", "21, 21")])
def test_a_port_that_is_given_twice_is_one_port(field, ports):
    """Switch B of the chain has four stations and two links: too few ports, to be refused before anything is drawn."""
    exercise = read_exercise(changed(tables=shaped(CHAIN), cells={("switches", 1, field): ports}))
    assert not isinstance(exercise, Exercise)


# --- Slots ------------------------------------------------------------------------------------------------------------


@given(st.binary(min_size=1, max_size=40), st.text(max_size=20), st.integers(1, 600))
@example(b"x", "", 1)
@example(b"x", "", 2)
def test_slots_are_a_permutation(secret, code, slots):
    """So that no two labs share one as long as there are enough, and the order tells nothing."""
    assert sorted(slot_of(secret, code, index, slots) for index in range(slots)) == list(range(slots))


@given(st.integers(0, 10_000), st.integers(1, 2**20))
def test_a_slot_past_the_last_is_used_again(index, slots):
    assert slot_of(SECRET, "HARBOUR-2", index, slots) == slot_of(SECRET, "HARBOUR-2", index + slots, slots)


def test_slots_depend_on_the_secret_and_on_the_code():
    orders = {
        tuple(slot_of(secret, code, index, 101) for index in range(101))
        for secret in (SECRET, ANOTHER_SECRET)
        for code in ("HARBOUR-2", "HARBOUR-3")
    }
    assert len(orders) == 4
