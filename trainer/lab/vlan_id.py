"""What a VLAN is told apart by: its number, and where switches may use a number for different networks its switch too."""

from __future__ import annotations

import re

from trainer.network.devices import SwitchName

__all__ = ["VlanId"]

_NUMBERS = 4096
"""So many VLAN numbers there are, 0 and 4095 counted (RFC 4363 VlanId: twelve bits)."""
_LETTERS = 27
"""Of the name of a switch, which has one or two: A to Z are 1 to 26."""


class VlanId(int):
    """A VLAN of a lab. Where no number stands twice it is the plain number, "30"; else it knows its switch: "30 on B".

    As a number it is above all VLAN numbers then, one for each switch and VLAN. Devices are set to its `number`.
    """

    @classmethod
    def on(cls, switch: SwitchName, number: int) -> VlanId:
        """The VLAN with that number on a switch whose name has one or two letters; others may have the number too.

        >>> str(VlanId.on(SwitchName("AB"), 30)), VlanId.on(SwitchName("B"), 30) == VlanId(30)
        ('30 on AB', False)
        """
        place = 0
        for letter in switch:
            place = place * _LETTERS + ord(letter) - ord("A") + 1
        return cls(place * _NUMBERS + number)

    @classmethod
    def read(cls, text: str) -> VlanId:
        """The VLAN that is called so. Raises ValueError where none can be."""
        match = re.fullmatch(r"([1-9][0-9]{0,3})(?: on ([A-Z]{1,2}))?", text)
        if match is None:
            raise ValueError(f"{text!r} is not the name of a VLAN, such as 30 or 30 on B")
        return cls(match[1]) if match[2] is None else cls.on(SwitchName(match[2]), int(match[1]))

    @property
    def number(self) -> int:
        """What devices are set to, and what trainees write."""
        return int(self) % _NUMBERS

    def __str__(self) -> str:
        place = int(self) // _NUMBERS
        if not place:
            return int.__repr__(self)
        high, low = divmod(place, _LETTERS)
        letters = "".join(chr(ord("A") + each - 1) for each in (high, low) if each)
        return f"{self.number} on {letters}"
