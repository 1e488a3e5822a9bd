"""IPv4 arithmetic in the trade's words. Values are the standard library's; netaddr reads MAC addresses."""

from functools import lru_cache
from ipaddress import IPv4Address, IPv4Network
from typing import NewType

from netaddr import EUI, AddrFormatError, mac_eui48
from netaddr.strategy.eui48 import valid_str as is_mac_text

__all__ = [
    "DEFAULT_ROUTE",
    "LONGEST_NETWORK",
    "Mac",
    "MaskError",
    "broadcast_address",
    "dotted",
    "fewest_needed",
    "first_usable",
    "has_host_bits",
    "is_no_host",
    "is_reserved",
    "last_usable",
    "length_of_mask",
    "mac",
    "mask_bits",
    "mask_of",
    "network_at",
    "next_multiple",
    "prefix_length_for",
    "usable_address",
    "usable_count",
]

Mac = NewType("Mac", str)
"""A MAC address as RFC 9542 1.1 writes it: six pairs of capital hexadecimal digits joined by hyphens."""

LONGEST_NETWORK = 30
"""The longest prefix length of a network with a network and a broadcast address (RFC 1812 4.2.2.11; /31: RFC 3021)."""


DEFAULT_ROUTE = IPv4Network("0.0.0.0/0")
"""The destination of a default route, which takes what no longer prefix does (RFC 4632 5.1)."""


class MaskError(ValueError):
    """A dotted value that is no mask: its ones are not contiguous from the left (RFC 4632 5.1)."""


def mask_of(prefix_length: int) -> IPv4Address:
    """The dotted mask of a prefix length, 0 to 32 (RFC 4632 3.1).

    >>> str(mask_of(26))
    '255.255.255.192'
    """
    return IPv4Address(mask_bits(prefix_length))


def mask_bits(prefix_length: int) -> int:
    """The mask as a plain number, for inner loops. ValueError where the prefix length is not 0 to 32."""
    if not 0 <= prefix_length <= 32:
        raise ValueError(f"a prefix length runs from 0 to 32, not {prefix_length}")
    return (0xFFFFFFFF << (32 - prefix_length)) & 0xFFFFFFFF


@lru_cache(maxsize=4096)
def dotted(address: int) -> str:
    """A plain number as it is written.

    >>> dotted(0xC0000201)
    '192.0.2.1'
    """
    return str(IPv4Address(address))


def length_of_mask(mask: IPv4Address) -> int:
    """The prefix length, 0 to 32, of a dotted mask.

    Raises MaskError where a 1 bit stands to the right of a 0 bit (RFC 4632 5.1, RFC 1812 10.2.2); the standard
    library and netaddr read such values as host masks in part, so they are not asked.

    >>> length_of_mask(IPv4Address("255.255.254.0"))
    23
    """
    host_bits = int(mask) ^ 0xFFFFFFFF
    if host_bits & (host_bits + 1):
        raise MaskError(f"{mask} has a 0 bit before a 1 bit")
    return 32 - host_bits.bit_length()


def network_at(address: IPv4Address, prefix_length: int) -> IPv4Network:
    """The network of the given length, 0 to 32, that holds the address (same-subnet rule of RFC 1122 3.3.1.1)."""
    return IPv4Network((int(address) & mask_bits(prefix_length), prefix_length))


def has_host_bits(address: IPv4Address, prefix_length: int) -> bool:
    """Whether a bit is set behind the prefix length, 0 to 32, so that the two together name no network (RFC 4632 3.1).

    >>> has_host_bits(IPv4Address("172.16.4.0"), 22), has_host_bits(IPv4Address("172.16.6.0"), 22)
    (False, True)
    """
    return int(address) & ~mask_bits(prefix_length) != 0


def usable_count(prefix_length: int) -> int:
    """How many addresses of such a network a device may have: all but two; both of a /31 (RFC 3021 2.1).

    Prefix length 0 to 31. A /32 has no network to speak of and is refused with ValueError.
    """
    if not 0 <= prefix_length <= 31:
        raise ValueError(f"a network has a prefix length of 0 to 31, not {prefix_length}")
    return 2 if prefix_length == 31 else 2 ** (32 - prefix_length) - 2


def prefix_length_for(addresses_needed: int) -> int:
    """The longest prefix length, at most 30, whose network has so many usable addresses.

    The network and the broadcast address are not usable (RFC 1812 4.2.2.11). addresses_needed: 1 to 2**32 - 2.

    >>> prefix_length_for(62), prefix_length_for(63)
    (26, 25)
    """
    if not 1 <= addresses_needed <= 2**32 - 2:
        raise ValueError(f"addresses needed run from 1 to {2**32 - 2}, not {addresses_needed}")
    return 32 - max((addresses_needed + 1).bit_length(), 32 - LONGEST_NETWORK)


def fewest_needed(prefix_length: int) -> int:
    """The fewest addresses needed that give a network this prefix length, 0 to 30: one more than the next smaller one has.

    >>> fewest_needed(26), fewest_needed(30)
    (31, 1)
    """
    return 1 if prefix_length == LONGEST_NETWORK else usable_count(prefix_length + 1) + 1


def first_usable(network: IPv4Network) -> IPv4Address:
    """The lowest address a device may have: behind the network address, or the lower one of a /31."""
    return network[0] if network.prefixlen >= 31 else network[1]


def last_usable(network: IPv4Network) -> IPv4Address:
    """The highest address a device may have: before the broadcast address, or the higher one of a /31."""
    return network[-1] if network.prefixlen >= 31 else network[-2]


def broadcast_address(network: IPv4Network) -> IPv4Address:
    """The address with all host bits 1 (RFC 1122 3.2.1.3); a /31 has none (RFC 3021 2.2): ValueError."""
    if network.prefixlen >= 31:
        raise ValueError(f"{network} has no broadcast address")
    return network[-1]


def is_no_host(address: int, mask: int) -> bool:
    """Whether it is the network or the broadcast address of the network it lies in by the mask, both as plain numbers.

    RFC 1122 3.2.1.3, RFC 1812 4.2.2.11; both addresses of a /31 are hosts (RFC 3021 2.1).
    """
    host_bits = mask ^ 0xFFFFFFFF
    return host_bits > 1 and address & host_bits in (0, host_bits)


def is_reserved(address: int) -> bool:
    """Whether no device may have the address, a plain number: 0/8, 127/8, multicast and everything above it.

    RFC 1122 3.2.1.3, RFC 6890 2.2.2; packets to and from them are not forwarded (RFC 1812 5.3.7).
    """
    first_octet = address >> 24
    return first_octet in (0, 127) or first_octet >= 224


def usable_address(network: IPv4Network, number: int) -> IPv4Address:
    """Usable address no. 1, 2, ... of a network, counted upward.

    A number past the last usable address is not refused: it names the address that would be next, so that
    a network drawn too small shows itself when it is tried.
    """
    return IPv4Address(int(first_usable(network)) + number - 1)


def next_multiple(address: int, size: int) -> int:
    """The lowest multiple of size that is not below address; both are plain numbers."""
    return -(-address // size) * size


def mac(text: str) -> Mac:
    """A MAC address written in any usual way: hyphens, colons, groups of four, or nothing between the digits.

    Raises ValueError where twelve hexadecimal digits cannot be made out. netaddr alone would read "1" as a MAC.

    >>> mac("0200.5e00.5301")
    '02-00-5E-00-53-01'
    """
    if sum(character in "0123456789abcdefABCDEF" for character in text) != 12 or not is_mac_text(text):
        raise ValueError(f"{text!r} is not a MAC address: it needs twelve hexadecimal digits")
    try:
        return Mac(str(EUI(text, version=48, dialect=mac_eui48)))
    except AddrFormatError as error:
        raise ValueError(f"{text!r} is not a MAC address") from error
