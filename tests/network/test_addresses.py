"""IPv4 arithmetic against published tables, brute force and the standard library."""

from ipaddress import IPv4Address, IPv4Network

import pytest
from hypothesis import given
from hypothesis import strategies as st
from placing import placed
from published import rows_of

from trainer.lab.plan import smallest_block_length
from trainer.network.addresses import (
    MaskError,
    broadcast_address,
    first_usable,
    last_usable,
    length_of_mask,
    mac,
    mask_bits,
    mask_of,
    network_at,
    next_multiple,
    prefix_length_for,
    usable_address,
    usable_count,
)

CIDR = rows_of("cidr_table")
CUT = rows_of("rfc1878_tables")
MISPRINTS = rows_of("rfc1878_misprints")
BASE_LENGTHS = {"1-1": 16, "1-2": 24}
"""What the tables of RFC 1878 cut up: N.N.0.0/16 and N.N.N.0/24."""

any_address = st.integers(0, 2**32 - 1).map(IPv4Address)
any_length = st.integers(0, 32)


# --- Masks ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", CIDR, ids=lambda row: f"/{row['prefix']}")
def test_masks_are_those_of_rfc_4632_and_rfc_1878(row):
    """RFC 4632 3.1 (table of all 33 lengths), RFC 1878 "Table" (decimal and hexadecimal)."""
    length = int(row["prefix"])
    mask = mask_of(length)
    assert str(mask) == row["mask"]
    assert ".".join(f"{octet:02X}" for octet in mask.packed) == row["mask_hex"]
    assert str(IPv4Address(mask_bits(length) ^ 0xFFFFFFFF)) == row["wildcard"]
    assert length_of_mask(IPv4Address(row["mask"])) == length


@pytest.mark.parametrize("row", CIDR, ids=lambda row: f"/{row['prefix']}")
def test_a_length_holds_as_many_addresses_as_rfc_4632_says(row):
    """RFC 4632 3.1: addresses, and number of such blocks in all of IPv4."""
    size = network_at(IPv4Address(0), int(row["prefix"])).num_addresses
    assert size == int(row["addresses"])
    assert 2**32 // size == int(row["blocks_in_ipv4"])


@pytest.mark.parametrize("row", CIDR[:32], ids=lambda row: f"/{row['prefix']}")
def test_usable_counts_are_the_published_ones(row):
    """RFC 1878 tables 1-1 and 1-2; RFC 3021 2.1 for /31; the rest from RFC 1812 4.2.2.11."""
    assert usable_count(int(row["prefix"])) == int(row["usable"])


def test_error_a_single_address_is_no_network_with_usable_addresses():
    """RFC 1878 and RFC 4632 3.1 call a /32 a host route."""
    assert CIDR[32]["note_rfc4632"] == "host route"
    with pytest.raises(ValueError, match=r"^a network has a prefix length of 0 to 31, not 32$"):
        usable_count(32)


@pytest.mark.parametrize("length", [-1, 33])
def test_error_a_prefix_length_outside_0_to_32_is_refused(length):
    """RFC 4632 3.1: "a decimal value between 0 and 32"."""
    for ask in (mask_of, mask_bits, lambda n: network_at(IPv4Address("10.0.0.1"), n)):
        with pytest.raises(ValueError, match=f"^a prefix length runs from 0 to 32, not {length}$"):
            ask(length)


@pytest.mark.parametrize(
    "mask",
    [
        pytest.param("255.255.255.88", id="RFC 950 App. II.3, legal in 1985"),
        pytest.param("0.0.0.255", id="a host mask, which the standard library reads as /24"),
        pytest.param("255.0.255.0", id="a hole of eight bits"),
        pytest.param("0.0.0.1", id="a single bit at the end"),
    ],
)
def test_error_a_mask_with_a_0_before_a_1_is_refused(mask):
    """RFC 4632 5.1: masks are contiguous from the left; RFC 1812 2.2.5.2, 10.2.2."""
    with pytest.raises(MaskError, match=rf"^{mask} has a 0 bit before a 1 bit$"):
        length_of_mask(IPv4Address(mask))


@given(any_address)
def test_every_dotted_value_is_one_of_33_masks_or_refused(address):
    masks = {mask_of(length): length for length in range(33)}
    if address in masks:
        assert length_of_mask(address) == masks[address]
    else:
        with pytest.raises(MaskError):
            length_of_mask(address)


# --- Networks cut from a block ----------------------------------------------------------------------------------------


def network_of(row):
    """The network of a row of RFC 1878, with 10 for every N."""
    return network_at(IPv4Address(row["network_printed"].replace("N", "10")), int(row["prefix"]))


def cut(row):
    """What our arithmetic says where RFC 1878 prints: number of networks, usable addresses, first and last, broadcast."""
    network = network_of(row)
    base = BASE_LENGTHS[row["table"]]
    whole_octets = base == 16
    first, last = (network[0], network[-1]) if whole_octets else (first_usable(network), last_usable(network))
    octet = 2 if whole_octets else 3
    low, high = first.packed[octet], last.packed[octet]
    return {
        "nets": str(2 ** (network.prefixlen - base)),
        "hosts": str(usable_count(network.prefixlen)),
        "host_range": str(low) if low == high else f"{low}-{high}",
        "broadcast": str(broadcast_address(network)),
    }


def printed(row):
    """The same four as the RFC prints them, with 10 for every N and the middle of the range alone."""
    before, after = ("N.N.", ".N") if row["table"] == "1-1" else ("N.N.N.", "")
    return {
        "nets": row["nets_printed"],
        "hosts": row["hosts_printed"],
        "host_range": row["host_range_printed"].removeprefix(before).removesuffix(after),
        "broadcast": row["broadcast_printed"].replace("N", "10"),
    }


def name(row):
    return f"{row['table']} {row['mask']} {row['network_printed']}"


def test_all_149_rows_of_rfc_1878_are_checked():
    assert len(CUT) == 149
    assert {row["table"] for row in CUT} == set(BASE_LENGTHS)


@pytest.mark.parametrize("row", [row for row in CUT if row not in MISPRINTS], ids=name)
def test_networks_are_cut_as_rfc_1878_prints(row):
    """RFC 1878 tables 1-1 and 1-2."""
    assert mask_of(int(row["prefix"])) == IPv4Address(row["mask"])
    assert cut(row) == printed(row)


@pytest.mark.parametrize("row", MISPRINTS, ids=name)
def test_misprinted_rows_of_rfc_1878_differ_from_ours(row):
    """RFC 1878 table 1-1 ends each mask at N.N.254.255, and counts 255 networks of 253 for /24; both are misprints."""
    assert row in CUT
    ours = cut(row)
    assert ours != printed(row)
    assert ours == {
        "nets": row["nets_computed"],
        "hosts": row["hosts_computed"],
        "host_range": row["host_range_computed"],
        "broadcast": row["broadcast_computed"].replace("N", "10"),
    }


def test_there_are_twelve_misprints_all_in_table_1_1():
    assert len(MISPRINTS) == 12
    assert {row["table"] for row in MISPRINTS} == {"1-1"}


SITES = [
    pytest.param("10.24.0.0/13", id="RFC 4632 6.1"),
    pytest.param("192.24.0.0/13", id="RFC 1519 5.1, the older text of the same example"),
]


@pytest.mark.parametrize("block", SITES)
def test_placing_reproduces_the_worked_sites(block):
    """Sites C1 to C6 in order of their addresses: each lies on the next multiple of its size."""
    needed = {"C1": 2048, "C3": 1024, "C4": 1024, "C2": 4096, "C5": 512, "C6": 512}
    lengths = [prefix_length_for(addresses - 2) for addresses in needed.values()]
    networks = dict(zip(needed, placed(IPv4Network(block), lengths), strict=True))
    head = block.split(".")[0]
    assert {site: str(network) for site, network in networks.items()} == {
        "C1": f"{head}.24.0.0/21",
        "C2": f"{head}.24.16.0/20",
        "C3": f"{head}.24.8.0/22",
        "C4": f"{head}.24.12.0/22",
        "C5": f"{head}.24.32.0/23",
        "C6": f"{head}.24.34.0/23",
    }


def test_placing_leaves_a_hole_where_a_larger_network_comes_second():
    """RFC 1519 5.1 shows the hole (between C1 and C2) that arises when sites are placed in the order they ask."""
    assert placed(IPv4Network("10.24.0.0/13"), [21, 20]) == [IPv4Network("10.24.0.0/21"), IPv4Network("10.24.16.0/20")]


def test_error_networks_that_not_even_all_of_ipv4_holds_are_refused():
    assert smallest_block_length([1, 2, 2]) == 0
    with pytest.raises(ValueError, match=r"^the networks hold more addresses than there are$"):
        smallest_block_length([1, 2, 2, 30])


def test_links_of_two_addresses_have_two_usable_ones():
    """RFC 3021 2.1: both addresses of a /31 are host addresses; 2.2: it has no directed broadcast."""
    link = IPv4Network("10.0.0.0/31")
    assert (first_usable(link), last_usable(link)) == (IPv4Address("10.0.0.0"), IPv4Address("10.0.0.1"))
    assert usable_count(31) == 2
    with pytest.raises(ValueError, match=r"^10\.0\.0\.0/31 has no broadcast address$"):
        broadcast_address(link)


@pytest.mark.parametrize("length", range(1, 31))
def test_a_network_is_as_long_as_its_addresses_allow(length):
    """At every border: the most a network holds, and one more (RFC 1812 4.2.2.11; never shorter than a /30)."""
    most = 2 ** (32 - length) - 2
    assert prefix_length_for(most) == length
    assert prefix_length_for(most + 1) == length - 1


def test_prefix_length_for_agrees_with_counting():
    def counted(needed: int) -> int:
        return next(length for length in range(30, -1, -1) if len(range(1, 2 ** (32 - length) - 1)) >= needed)

    assert all(prefix_length_for(needed) == counted(needed) for needed in range(1, 5000))


@pytest.mark.parametrize("needed", [0, -1, 2**32 - 1])
def test_error_a_number_of_addresses_that_no_network_holds_is_refused(needed):
    with pytest.raises(ValueError, match=f"^addresses needed run from 1 to 4294967294, not {needed}$"):
        prefix_length_for(needed)


def test_usable_addresses_are_counted_from_the_first():
    network = IPv4Network("192.0.2.64/27")
    assert usable_address(network, 1) == first_usable(network) == IPv4Address("192.0.2.65")
    assert usable_address(network, usable_count(27)) == last_usable(network) == IPv4Address("192.0.2.94")


def test_a_number_past_the_last_usable_address_names_the_next_one():
    """So that a network drawn too small shows itself when it is tried."""
    assert usable_address(IPv4Network("192.0.2.64/30"), 4) == IPv4Address("192.0.2.68")


# --- Against the standard library -------------------------------------------------------------------------------------


@given(any_address, any_length)
def test_network_at_agrees_with_the_standard_library(address, length):
    network = network_at(address, length)
    assert network == IPv4Network((address, length), strict=False)
    assert address in network


@given(any_address, st.integers(0, 30))
def test_first_last_and_broadcast_agree_with_the_standard_library(address, length):
    network = network_at(address, length)
    assert broadcast_address(network) == network.broadcast_address
    assert int(first_usable(network)) == int(network.network_address) + 1
    assert int(last_usable(network)) == int(network.broadcast_address) - 1


@given(any_address, st.integers(22, 31))
def test_usable_addresses_are_the_hosts_of_the_standard_library(address, length):
    network = network_at(address, length)
    hosts = list(network.hosts())
    assert [usable_address(network, number) for number in range(1, usable_count(length) + 1)] == hosts
    assert (first_usable(network), last_usable(network)) == (hosts[0], hosts[-1])


@given(any_length)
def test_masks_agree_with_the_standard_library(length):
    network = IPv4Network((0, length))
    assert (mask_of(length), mask_bits(length)) == (network.netmask, int(network.netmask))
    assert length_of_mask(network.netmask) == length


@given(st.integers(0, 2**32), st.integers(0, 32).map(lambda bits: 2**bits))
def test_next_multiple_is_the_lowest_multiple_from_there_on(address, size):
    found = next_multiple(address, size)
    assert found % size == 0
    assert address <= found < address + size


@given(any_address, st.lists(st.integers(20, 31), min_size=1, max_size=12))
def test_placed_networks_are_aligned_in_order_apart_and_as_low_as_they_can_be(address, lengths):
    """In the smallest block that holds them all; in none that is half of it."""
    block = network_at(address, smallest_block_length(lengths))
    networks = placed(block, lengths)
    assert [network.prefixlen for network in networks] == lengths
    half = network_at(block.network_address, block.prefixlen + 1)
    assert not all(network.subnet_of(half) for network in networks)
    end = int(block.network_address)
    for network in networks:
        assert network.subnet_of(block)
        gap = int(network.network_address) - end
        assert 0 <= gap < network.num_addresses
        end = int(network.broadcast_address) + 1
    assert not any(one.overlaps(other) for place, one in enumerate(networks) for other in networks[:place])


# --- MAC addresses ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("00-00-5E-00-53-01", id="RFC 9542 1.1: hyphens between octets"),
        pytest.param("00:00:5e:00:53:01", id="RFC 6991 mac-address: colons, lower case"),
        pytest.param("0000.5e00.5301", id="groups of four: common practice, no source"),
        pytest.param("00005E005301", id="digits alone: common practice, no source"),
        pytest.param("00005e-005301", id="two halves: common practice, no source"),
    ],
)
def test_a_mac_address_is_read_in_its_usual_forms(text):
    """The address is from the documentation block of RFC 9542 2.1.4."""
    assert mac(text) == "00-00-5E-00-53-01"


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("1", id="one digit, which a library reads as a MAC"),
        pytest.param("", id="nothing"),
        pytest.param("00-00-5E-00-53", id="five octets"),
        pytest.param("00-00-5E-00-53-01-02", id="seven octets"),
        pytest.param("00-00-5E-00-53-0G", id="a letter past F"),
        pytest.param("0-0-5E-0-53-1", id="octets of one digit"),
        pytest.param("00-00-5E-00-53-٠1", id="a digit of another script"),
        pytest.param("192.0.2.1", id="an IPv4 address"),
    ],
)
def test_error_what_has_not_twelve_digits_is_no_mac_address(text):
    with pytest.raises(ValueError, match=r"^.* is not a MAC address: it needs twelve hexadecimal digits$") as refusal:
        mac(text)
    assert str(refusal.value).startswith(repr(text))


@given(st.binary(min_size=6, max_size=6), st.sampled_from(["-", ":", ""]), st.booleans())
def test_every_mac_address_is_read_back(octets, between, capitals):
    text = between.join(f"{octet:02X}" if capitals else f"{octet:02x}" for octet in octets)
    assert mac(text) == "-".join(f"{octet:02X}" for octet in octets)


@given(st.text(max_size=20))
def test_no_text_breaks_the_reader_of_mac_addresses(text):
    try:
        found = mac(text)
    except ValueError:
        return
    assert len(found) == 17
