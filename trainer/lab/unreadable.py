"""In which way a text is no value of its kind. Reading finds it out (lab/kinds.py), the catalogue words it."""

from dataclasses import dataclass
from enum import Enum

__all__ = ["NotReadable", "TextFlaw", "Unreadable"]


class TextFlaw(Enum):
    """What keeps a text from being read."""

    # In texts of all kinds
    TWO_VALUES = "two values in one cell"
    PLACEHOLDER = "a note that something is to follow"
    REMARK = "a value, and words behind it"
    # Addresses, in dotted masks too
    NOT_FOUR_NUMBERS = "numbers with dots between them, but not four"
    NUMBER_TOO_LARGE = "four numbers, one of them above 255"
    LEADING_ZERO = "four numbers, one of them with a zero in front"
    NOT_FOUR_PARTS = "not four parts with dots between them, and not numbers alone"
    NOT_A_NUMBER = "four parts, one of them no number"
    # Masks and prefix lengths
    ONES_ON_HOST_SIDE = "an address whose ones stand together at the right, as a mask's do at the left"
    ONES_APART = "an address whose ones do not stand together"
    NO_MASK = "an address with more around it, whose ones do not stand together at the left"
    LENGTH_FOR_DOTTED = "a prefix length, where the dotted form is asked for"
    PAST_LAST_BIT = "a length of more than 32 bits"
    NO_LENGTH = "neither a prefix length nor a mask"
    # VLANs and ports
    NO_VLAN_NUMBER = "no VLAN number"
    NO_PORT_USE = "neither a VLAN number nor the word routed"
    PORT_WITHOUT_SWITCH = "a port number alone"
    SWITCH_WITHOUT_PORT = "a switch alone"
    NO_PORT = "no port"
    NO_SWITCH = "no letter of a switch"
    # Lists
    SAYS_ALL = "a word for all there are"
    NO_LIST = "no list of numbers"
    NO_RANGE = "a range that runs backwards or too far"
    # MAC addresses
    TOO_FEW_DIGITS = "fewer than twelve hexadecimal digits"
    TOO_MANY_DIGITS = "more than twelve hexadecimal digits"
    NOT_HEXADECIMAL = "characters that are no hexadecimal digits"
    NO_MAC = "twelve digits, grouped as no MAC address is"
    # Leases, and how a binding row came to be
    CLOCK_TIME = "a time of day"
    NO_LEASE = "no length of time"
    TOO_LONG = "more seconds than a lease can have"
    NO_BINDING_TYPE = "neither dynamic nor static"
    # Fault finding
    NO_LINE = "no line of a sheet Found"
    NO_TEST = "no test of sheet Tests"
    NO_FAULT_KIND = "neither cause nor harmless"
    NO_OUTCOME = "no way in which a test comes out"
    NO_FAULT_NUMBERS = "no numbers of faults"


@dataclass(frozen=True, slots=True)
class Unreadable:
    """What keeps a text from being read, and in which part of it."""

    flaw: TextFlaw
    part: str = ""
    """The number, the range or the address that is at fault, or how many parts there are; "" where it is the text."""


class NotReadable(ValueError):
    """What was typed is no value of its kind."""

    def __init__(self, flaw: TextFlaw, part: str = "") -> None:
        super().__init__(flaw.value, part)
        self.why = Unreadable(flaw, part)
