"""Mistakes on sheet Subnets: where networks start and end, and which address is what in them."""

from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import pools, stations, subnets
from trainer.marking.credit import RIGHT_IDEA
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes import addressing_predicates as when
from trainer.marking.mistakes.mistake import Charged, Claim, Mistake
from trainer.marking.mistakes.question_groups import NETWORK_QUESTIONS

__all__ = ["ADDRESSING"]

_NETWORK = frozenset({subnets.NETWORK_ADDRESS.id})
_FIRST = frozenset({subnets.FIRST_USABLE.id})
_LAST = frozenset({subnets.LAST_USABLE.id})
_RANGE = _FIRST | _LAST
_BROADCAST = frozenset({subnets.BROADCAST_ADDRESS.id})
_INTERFACE = frozenset({subnets.GATEWAY.id})
_GATEWAY_TOLD = frozenset({stations.STATION_GATEWAY.id, pools.POOL_ROUTER.id})
_GATEWAY = _INTERFACE | _GATEWAY_TOLD
_SUBNET_ADDRESSES = _NETWORK | _RANGE | _BROADCAST | _INTERFACE

ADDRESSING: tuple[Mistake, ...] = (
    # Where a network starts
    Mistake(
        id="network-is-broadcast",
        questions=NETWORK_QUESTIONS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=address.is_broadcast_address,
        explanation="{given} is the highest address of this network. The network address is the lowest.",
        consequence="Whoever sets up a device from it finds it refused, or gets a network of another size.",
        claim=Claim.NONE,
        hint="Are the host bits of a network address all zeros or all ones?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-is-gateway",
        questions=_NETWORK,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=address.is_own_gateway,
        explanation=(
            "{given} is the gateway, a device inside the network. "
            "The network address names all of it and belongs to no device."
        ),
        consequence="Whoever sets up a device from it finds it refused or rounded down: the plan no longer matches what is set.",
        claim=Claim.NONE,
        hint="Which of the two has no host bit that is a one?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-has-host-bits",
        questions=NETWORK_QUESTIONS,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=when.has_host_bits,
        explanation=(
            "{given} lies inside this network, but not at its start. In a network address every host bit is a zero."
        ),
        consequence="Whoever sets up a device from it finds it refused or rounded down: the plan no longer matches what is set.",
        claim=Claim.NONE,
        hint="What is left of your address when you keep the bits under the mask only?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="network-outside-parent",
        questions=_NETWORK,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_block,
        explanation=(
            "{given} is not in the block that was given for this lab. All networks of the plan come from there."
        ),
        consequence=(
            "It is not the lab's to use, and whoever sets up the lab by the rules looks for this network elsewhere."
        ),
        claim=Claim.NONE,
        hint="Which are the first and the last address of the block on sheet Given?",
        source=f"RFC 4632 section 3.1; rule {HouseRule.BLOCK} of this lab",
    ),
    Mistake(
        id="network-sorted-by-size-only",
        questions=_NETWORK,
        priority=13,
        charged=Charged.ONCE,
        fits=when.is_sorted_by_size_only,
        explanation=(
            f"At {{given}} the network would start if all were sorted by size. Here rule {HouseRule.ORDER} gives "
            "each switch a range of its own, and sorts by size inside it."
        ),
        consequence="Where the networks of several switches are mixed, no single route takes in those of one switch alone.",
        claim=Claim.NONE,
        hint="Which networks belong to one switch, and how large is the range that holds them all?",
        source=f"rule {HouseRule.ORDER} of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="network-order-not-followed",
        questions=_NETWORK,
        priority=13,
        charged=Charged.ONCE,
        fits=when.follows_other_order,
        explanation=(
            f"The network would start at {{given}} if the order of rule {HouseRule.ORDER} were another one. Size and "
            "table order are two things."
        ),
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint=f"By what does rule {HouseRule.ORDER} of the Brief sort the networks?",
        source=f"rule {HouseRule.ORDER} of this lab; common practice, no source",
    ),
    Mistake(
        id="network-of-another-row",
        questions=NETWORK_QUESTIONS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=when.starts_another_network,
        explanation="At {given} another network of your plan starts.",
        consequence=(
            "Set up from such a plan, two interfaces claim the same addresses, and one of the two networks may be out of "
            "reach."
        ),
        claim=Claim.NONE,
        hint="Which row of your plan holds this address already?",
        source="RFC 1812 section 5.2.4.2; the slip: common practice, no source",
    ),
    Mistake(
        id="network-not-on-boundary",
        questions=NETWORK_QUESTIONS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.is_off_boundary,
        explanation="A network can start only at a multiple of its own size, and {given} is none.",
        consequence="A network that is set up from it starts earlier than you wrote.",
        claim=Claim.NONE,
        hint="When you count up from the start of the block in steps of this size, do you land on your address?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-inside-another",
        questions=NETWORK_QUESTIONS,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.is_next_block_inside_another,
        explanation="At {given} another network of your plan still goes on: it ends with its broadcast address, not before.",
        consequence=(
            "Set up from such a plan, two interfaces claim the same addresses, and one of the two networks may be out of "
            "reach."
        ),
        claim=Claim.NONE,
        hint="Which address is the last one of the network before?",
        source="RFC 4632 section 3.1; RFC 1812 section 5.2.4.2",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="network-next-or-previous-block",
        questions=NETWORK_QUESTIONS,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_next_block,
        explanation="{given} would be a start for a network of this size, one step beside the right one.",
        consequence="Where another network holds that place the two overlap, and one of them may be out of reach.",
        claim=Claim.NONE,
        hint=f"Where does each network before this one end, in the order of rule {HouseRule.ORDER}?",
        source="RFC 4632 section 3.1",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="subnets-overlap",
        questions=NETWORK_QUESTIONS,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=when.overlaps,
        explanation="A network at {given} shares addresses with another one of your plan.",
        consequence="A switch set up from such a plan may refuse the second interface, or send packets into the wrong VLAN.",
        claim=Claim.NONE,
        hint="If you sort all first and last addresses in one list, which ranges touch?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="octet-carry",
        questions=_SUBNET_ADDRESSES,
        priority=25,
        charged=Charged.EACH_TIME,
        fits=when.misses_carry,
        explanation=(
            "The last number is right and the one before it is one off, as if a carry were missed or made once "
            "too often."
        ),
        consequence="Such an address lies elsewhere, perhaps in another network.",
        claim=Claim.NONE,
        hint="What happens to the number on the left when the last one is full?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-leaves-gap",
        questions=_NETWORK,
        priority=32,
        charged=Charged.EACH_TIME,
        fits=when.leaves_gap,
        explanation=(
            f"{{given}} lies behind the place that rule {HouseRule.ORDER} gives to this network, and leaves "
            "addresses unused before it."
        ),
        consequence="The addresses left out may be missing at the end of the block.",
        claim=Claim.NONE,
        hint="Which is the first free multiple of this size behind the network before?",
        source=f"rule {HouseRule.ORDER} of this lab; common practice, no source",
    ),
    Mistake(
        id="network-too-late",
        questions=_NETWORK,
        priority=33,
        charged=Charged.EACH_TIME,
        fits=when.lies_too_high,
        explanation=f"{{given}} lies behind the place that rule {HouseRule.ORDER} gives to this network.",
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint=f"Which networks come before this one by rule {HouseRule.ORDER}, and where does the last of them end?",
        source=f"rule {HouseRule.ORDER} of this lab; common practice, no source",
    ),
    Mistake(
        id="network-too-early",
        questions=_NETWORK,
        priority=32,
        charged=Charged.EACH_TIME,
        fits=when.lies_too_low,
        explanation=f"{{given}} lies before the place that rule {HouseRule.ORDER} gives to this network.",
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint=f"Which networks come before this one by rule {HouseRule.ORDER}, and where does the last of them end?",
        source=f"rule {HouseRule.ORDER} of this lab; common practice, no source",
    ),
    # First and last usable address
    Mistake(
        id="host-range-stops-at-octet",
        questions=_LAST | _BROADCAST,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=address.stops_at_octet,
        explanation="You stopped where the last number is full for the first time. This network goes on after that.",
        consequence="A part of the network is never used, and a pool built on it is too small.",
        claim=Claim.NONE,
        hint="How often does the third number count up inside this one network?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="host-range-columns-exchanged",
        questions=_RANGE,
        priority=10,
        charged=Charged.ONE_ROW,
        fits=when.are_ends_exchanged,
        explanation="First and last usable address are exchanged: each stands in the other's column.",
        consequence="Whoever builds from this row takes the last usable address for the first.",
        claim=Claim.NONE,
        hint="Which of your two addresses is the lower one?",
        source="RFC 1122 section 3.2.1.3; the slip: common practice, no source",
    ),
    Mistake(
        id="host-range-ends-swapped",
        questions=_RANGE,
        priority=11,
        charged=Charged.EACH_TIME,
        fits=when.is_at_other_end,
        explanation="{given} is the usable address at the other end of this network.",
        consequence="Whoever builds from this row takes the wrong end for the start or the end of the range.",
        claim=Claim.NONE,
        hint="Which end of the network does this column ask for?",
        source="RFC 1122 section 3.2.1.3; the slip: common practice, no source",
    ),
    Mistake(
        id="first-host-is-network",
        questions=_FIRST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=address.is_network_address,
        explanation="{given} is the network address itself, which is given to no device.",
        consequence="No interface can have this address.",
        claim=Claim.NONE,
        hint="May all host bits of a device's address be zeros?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="last-host-is-broadcast",
        questions=_LAST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=address.is_broadcast_address,
        explanation="{given} is the broadcast address, which is given to no device.",
        consequence="No interface can have this address, as it stands for all devices of the network.",
        claim=Claim.NONE,
        hint="May all host bits of a device's address be ones?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="last-host-is-next-network",
        questions=_LAST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=when.is_next_start,
        explanation="{given} is past the end: it is the first address that does not belong to this network any more.",
        consequence="A device with this address is in another network, and its neighbours do not find it.",
        claim=Claim.NONE,
        hint="Where does this network end when you count all its addresses, its start included?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="host-range-skips-gateway",
        questions=_RANGE,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=when.skips_gateway,
        explanation="You left the gateway out. It has one of the usable addresses, like any other device.",
        consequence="The count of usable addresses comes out one short, and so does a size worked out from it.",
        claim=Claim.NONE,
        hint="Is the gateway a device of this network, or is its address reserved?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-range-skips-fixed",
        questions=_FIRST,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=when.skips_fixed,
        explanation=(
            "You left out the part reserved for static addresses. It is in no pool, yet its addresses can be used."
        ),
        consequence="Stations with static addresses would stand outside the range that the plan calls usable.",
        claim=Claim.NONE,
        hint="Does this column ask about the pool or about the whole network?",
        source=f"RFC 1122 section 3.2.1.3; rule {HouseRule.POOLS} of this lab",
    ),
    Mistake(
        id="row-slipped",
        questions=_SUBNET_ADDRESSES - _NETWORK - _INTERFACE,
        priority=18,
        charged=Charged.EACH_TIME,
        fits=when.is_right_a_row_off,
        explanation="{given} would be right for another VLAN of this sheet.",
        consequence="Whoever builds from this row sets up the addresses of another network.",
        claim=Claim.NONE,
        hint="Does your answer lie between the network address and the end of this row?",
        source="common practice, no source",
    ),
    Mistake(
        id="host-range-not-the-end",
        questions=_RANGE,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=address.is_in_own_network,
        explanation="{given} is inside this network, but not the outermost address that a device can have.",
        consequence="Addresses of the network stay unused although the plan counts on them.",
        claim=Claim.NONE,
        hint="Which address lies next to the reserved one at this end?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-range-outside-subnet",
        questions=_RANGE,
        priority=31,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_own_network,
        explanation="{given} is not in the network of this row.",
        consequence="The plan claims addresses that belong to another network, or to nobody.",
        claim=Claim.NONE,
        hint="Does it lie between the network address and the broadcast address of this row?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="range-in-another-network",
        questions=_RANGE | _BROADCAST,
        priority=26,
        charged=Charged.EACH_TIME,
        fits=address.is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN. Each row of this sheet stays within its own network.",
        consequence="The plan claims addresses that another VLAN is using.",
        claim=Claim.NONE,
        hint="Where does the network of this row end, and where does the next one start?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="range-on-a-link",
        questions=_RANGE | _BROADCAST,
        priority=27,
        charged=Charged.EACH_TIME,
        fits=address.is_on_link,
        explanation=("{given} is on a link between switches. The links have networks of their own."),
        consequence="The plan gives an address of a link to the stations of a VLAN.",
        claim=Claim.NONE,
        hint="Where does the network of this row end, and what lies behind it?",
        source=f"RFC 4632 section 3.1; rule {HouseRule.ORDER} of this lab",
    ),
    # Broadcast address
    Mistake(
        id="broadcast-all-ones",
        questions=_BROADCAST,
        priority=4,
        charged=Charged.EACH_TIME,
        fits=when.is_all_ones,
        explanation=(
            "{given} means every device on the local link, whatever its network. What is asked for is the "
            "broadcast address of one network."
        ),
        consequence="Sent from a far network, it would never arrive: no switch hands it on.",
        claim=Claim.NONE,
        hint="Which of the bits stay as they are in this network, and which become ones?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-last-host",
        questions=_BROADCAST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=when.is_one_before,
        explanation=(
            "{given} is the last address that a device can have. In the broadcast address every host bit is a one."
        ),
        consequence="A device may have this address, so a broadcast sent there reaches one device at most.",
        claim=Claim.NONE,
        hint="Is the last bit of your answer a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-next-network",
        questions=_BROADCAST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=when.is_next_start,
        explanation=(
            "{given} is one past the end of this network: another one would start there. "
            "The broadcast address is the last one of this network."
        ),
        consequence="A packet sent there leaves the network and reaches none of its stations as a broadcast.",
        claim=Claim.NONE,
        hint="Which address do you get when every host bit of this network becomes a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-network",
        questions=_BROADCAST,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=address.is_network_address,
        explanation=(
            "{given} is the network address, where every host bit is a zero. In the broadcast address they are ones."
        ),
        consequence="A broadcast sent there is taken for the old form and may be dropped by every station.",
        claim=Claim.NONE,
        hint="Which of the two special addresses of a network is the highest?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-assumes-255",
        questions=_BROADCAST,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=when.ends_in_255,
        explanation=("The last number is full only if the host bits fill it. In this network they do not."),
        consequence="The address lies outside this network, so no station of it takes it for a broadcast.",
        claim=Claim.NONE,
        hint="How many host bits has this network, and in which numbers do they stand?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-inside-subnet",
        questions=_BROADCAST,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=address.is_in_own_network,
        explanation="{given} is an ordinary address of this network. The broadcast address is the very last.",
        consequence="A device may be given this address, so a broadcast would reach one device at most.",
        claim=Claim.NONE,
        hint="Which address do you get when you turn every host bit into a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-outside-subnet",
        questions=_BROADCAST,
        priority=31,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_own_network,
        explanation="{given} is no address of this network.",
        consequence="A packet sent there leaves the network and reaches none of its stations as a broadcast.",
        claim=Claim.NONE,
        hint="Where do you come out when you count up from the network address by the size of the network?",
        source="RFC 1122 section 3.2.1.3",
    ),
    # Gateways: on the interface, in stations, in pools
    Mistake(
        id="gateway-is-network",
        questions=_GATEWAY,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=when.starts_any_network,
        explanation="{given} is a network address. It names a whole network and is given to no device.",
        consequence="Stations find nobody at this address, so they reach nothing outside their network.",
        claim=Claim.NO_ANSWER,
        hint="Is any host bit of your answer a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="gateway-is-broadcast",
        questions=_GATEWAY,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=when.ends_any_network,
        explanation="{given} is the broadcast address of a network. It stands for all devices and is given to none.",
        consequence="Stations cannot use it as their way out, so they reach nothing outside their network.",
        claim=Claim.NO_ANSWER,
        hint="Is any host bit of your answer a zero?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="gateway-takes-a-stations-address",
        questions=_INTERFACE,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=when.is_a_fixed_stations,
        explanation=(
            "{given} is also the address of a station of this VLAN, by its number in table Stations. Rule "
            f"{HouseRule.GATEWAY} names another one."
        ),
        consequence="Two devices answer for one address, and connections of the whole VLAN may break off.",
        claim=Claim.NO_ANSWER,
        hint=(
            f"Which usable address does rule {HouseRule.GATEWAY} name, and which numbers does table Stations give away?"
        ),
        source=f"RFC 5227 section 1; rule {HouseRule.GATEWAY} of this lab",
    ),
    Mistake(
        id="gateway-at-wrong-end",
        questions=_INTERFACE,
        priority=11,
        charged=Charged.ONCE,
        fits=when.is_at_other_end,
        explanation=(
            f"{{given}} is at the wrong end of the network. Rule {HouseRule.GATEWAY} says which usable address it "
            "has in this lab."
        ),
        consequence=(
            "Stations that are set up by the rule look for their way out at the other end, and reach "
            "nothing outside their network."
        ),
        claim=Claim.NO_ANSWER,
        hint=f"Which usable address does rule {HouseRule.GATEWAY} of the Brief name?",
        source=f"rule {HouseRule.GATEWAY} of this lab; common practice, no source",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="gateway-is-dhcp-server",
        questions=_GATEWAY,
        priority=12,
        charged=Charged.EACH_TIME,
        fits=address.is_server,
        explanation="{given} is the DHCP server. It hands out addresses and does not route.",
        consequence="Stations may reach their neighbours, but nothing beyond them answers.",
        claim=Claim.NO_ANSWER,
        hint="Which device has an address in this VLAN and in other networks as well?",
        source="RFC 2132 section 3.5; RFC 1122 section 3.3.1.2",
    ),
    Mistake(
        id="gateway-of-other-vlan",
        questions=_GATEWAY,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=address.is_other_gateway,
        explanation=(
            "{given} is the gateway of another VLAN. A gateway stands in the same network as the stations that use it."
        ),
        consequence="Stations cannot reach it directly, so their packets stay inside the VLAN.",
        claim=Claim.NO_ANSWER,
        hint="Under the mask of this VLAN, are your answer and a station of it in the same network?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-is-link-address",
        questions=_GATEWAY,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=address.is_on_link,
        explanation=(
            "{given} is on a link between switches. Stations use the address of their switch in their own VLAN."
        ),
        consequence="Stations cannot reach it directly, so nothing outside the VLAN answers.",
        claim=Claim.NO_ANSWER,
        hint="Which address of the switch can a station reach without crossing a router?",
        source="RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="gateway-is-pool-start",
        questions=_GATEWAY,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.is_pool_start,
        explanation="{given} is the first address of the pool, which is there for clients.",
        consequence=(
            "A client may get the same address; and where switch and stations differ in the gateway, "
            "nothing outside the VLAN answers."
        ),
        claim=Claim.NO_ANSWER,
        hint="Which addresses of this network does the server never hand out?",
        source="RFC 2131 section 2.2; RFC 5227 section 1",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="gateway-is-a-station",
        questions=_GATEWAY,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_a_stations,
        explanation="{given} belongs to a station. Stations do not route.",
        consequence="Packets for other networks may go to that station, which drops them.",
        claim=Claim.NO_ANSWER,
        hint="Which device stands between this VLAN and the rest of the lab?",
        source="RFC 1122 section 3.3.1.2",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="iface-in-other-vlan-subnet",
        questions=_INTERFACE,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=address.is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN.",
        consequence=(
            "This VLAN has no way out, and the switch may look for the other network behind the wrong interface."
        ),
        claim=Claim.NO_ANSWER,
        hint="Between which two addresses of this row should the gateway lie?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="iface-address-outside-plan",
        questions=_INTERFACE,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_plan,
        explanation="{given} is in none of the VLAN networks you planned.",
        consequence="The VLAN has no way out: no station can reach an interface with this address.",
        claim=Claim.NO_ANSWER,
        hint="Which range did you plan for this VLAN, and does the address lie in it?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="iface-not-the-agreed-address",
        questions=_INTERFACE,
        priority=24,
        charged=Charged.EACH_TIME,
        fits=address.is_in_own_network,
        explanation=f"{{given}} is in the right network, but rule {HouseRule.GATEWAY} names another address of it.",
        consequence="Stations that expect the gateway where the rule puts it get no answer.",
        claim=Claim.NO_ANSWER,
        hint=f"Which usable address does rule {HouseRule.GATEWAY} of the Brief name?",
        source=f"rule {HouseRule.GATEWAY} of this lab; common practice, no source",
        credit=RIGHT_IDEA,
    ),
    Mistake(
        id="gateway-in-other-vlan",
        questions=_GATEWAY_TOLD,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=address.is_in_other_vlan,
        explanation=(
            "{given} lies in the network of another VLAN. A gateway stands in the same network as those that use it."
        ),
        consequence="The station's gateway is not in its own network, so it reaches nothing outside that.",
        claim=Claim.NO_ANSWER,
        hint="Between which two addresses lies the network of this VLAN?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-outside-subnet",
        questions=_GATEWAY_TOLD,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_own_network,
        explanation="{given} is not in the network of this VLAN.",
        consequence="The station's gateway is not in its own network, so it reaches nothing outside that.",
        claim=Claim.NO_ANSWER,
        hint="Under the mask of this VLAN, are your answer and a station of it in the same network?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-not-the-switch",
        questions=_GATEWAY_TOLD,
        priority=24,
        charged=Charged.EACH_TIME,
        fits=address.is_in_own_network,
        explanation="{given} is in the right network, but the switch does not have this address.",
        consequence="Stations send everything for other networks to an address where nobody answers.",
        claim=Claim.NO_ANSWER,
        hint="Which address did you write for the VLAN interface on sheet Subnets?",
        source="RFC 1122 section 3.3.1.2",
        credit=RIGHT_IDEA,
    ),
)
