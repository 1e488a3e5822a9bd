"""What the questions are about: what a person has to understand in order to answer them."""

from enum import Enum

__all__ = ["Area", "Concept", "FaultConcept"]


class Area(Enum):
    """Concepts that belong together, by the words that are printed beside a bar."""

    ADDRESSING = "Addressing"
    PORTS_AND_VLANS = "Ports and VLANs"
    ROUTING = "Routing"
    DHCP = "DHCP"
    PROTECTION = "Protection"
    FAULT_FINDING = "Fault finding"


class Concept(Enum):
    """One thing to understand, in the order in which they rest on each other. Each is asked by at least one question."""

    SIZE = "Size", Area.ADDRESSING
    """How many addresses a network holds, as a length and as a mask."""
    PLACE = "Place", Area.ADDRESSING
    """Where in the block a network lies."""
    RANGE = "Range", Area.ADDRESSING
    """Which addresses are the ends of a network, and of what can be used of it."""
    GATEWAY = "Gateway", Area.ADDRESSING
    """Which address leads out of a network, and who has to know it."""
    FIXED = "Fixed", Area.ADDRESSING
    """The addresses that stations keep."""
    LINK = "Link", Area.ADDRESSING
    """The network between two switches."""
    PORTS = "Ports", Area.PORTS_AND_VLANS
    """Which VLAN a port carries, if any."""
    ROUTES = "Routes", Area.ROUTING
    """Which way leads to a network that is not a switch's own."""
    RETURN_PATH = "Return path", Area.ROUTING
    """That each switch has to be told: a way there is none back."""
    POOL = "Pool", Area.DHCP
    """What the DHCP server lends in a network."""
    RELAY = "Relay", Area.DHCP
    """How a request gets to a server in another network."""
    SNOOPING = "Snooping", Area.PROTECTION
    """Through which ports a DHCP server may be heard."""
    BINDINGS = "Bindings", Area.PROTECTION
    """What a switch knows of who has which address."""
    GUARD = "Guard", Area.PROTECTION
    """Which ports let only those through whom the switch knows."""

    def __init__(self, title: str, area: Area) -> None:
        self.title = title
        self.area = area

    @property
    def slug(self) -> str:
        """Its title as files and commands have it: "return-path"."""
        return self.title.casefold().replace(" ", "-")


class FaultConcept(Enum):
    """What has to be understood to find faults. Each is asked by sheets of its own, and studied by working on such a lab."""

    SYMPTOMS = "Symptoms", Area.FAULT_FINDING
    """What comes from a fault, and what does not."""
    LOCATING = "Locating", Area.FAULT_FINDING
    """Which setting makes a network do what was seen."""
    TESTING = "Testing", Area.FAULT_FINDING
    """What a test shows before and after a repair."""

    def __init__(self, title: str, area: Area) -> None:
        self.title = title
        self.area = area
