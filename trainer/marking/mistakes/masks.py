"""Mistakes in masks and prefix lengths, wherever they are asked."""

from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import links, pools, routes, stations, subnets
from trainer.lab.unreadable import TextFlaw
from trainer.marking.mistakes import masks_predicates as when
from trainer.marking.mistakes.mistake import Charged, Claim, Flaw, Mistake, always, cannot_be_read
from trainer.marking.mistakes.question_groups import LENGTH_QUESTIONS

__all__ = ["MASKS"]

_UNREADABLE = frozenset({Flaw.UNREADABLE})
_VLAN_PLAN = frozenset({subnets.PREFIX_LENGTH_OF.id, subnets.MASK.id})
_COPIES = frozenset({stations.STATION_MASK.id, pools.POOL_MASK.id})
_ROUTE = frozenset({routes.ROUTE_MASK_OF.id})
_LINK = frozenset({links.LINK_MASK.id})
_VLAN_LENGTHS = _VLAN_PLAN | _COPIES

MASKS: tuple[Mistake, ...] = (
    Mistake(
        id="mask-in-address-cell",
        questions=LENGTH_QUESTIONS,
        priority=9,
        charged=Charged.ONCE,
        flaws=frozenset({Flaw.BLANK}),
        fits=when.stands_behind_address,
        explanation="This cell is empty; the length stands in the cell of the address. It counts in its own column only.",
        consequence="The row names a place and no size, so nobody can tell where the network ends.",
        claim=Claim.NONE,
        hint="In which column of this row does the length belong?",
        source="how to write in this lab; common practice, no source",
    ),
    Mistake(
        id="mask-holds-address",
        questions=LENGTH_QUESTIONS,
        priority=8,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=when.is_lab_address,
        explanation="{given} is an address of this lab. A mask says how many bits of an address name the network.",
        consequence="Every device refuses such a value, so the interface stays without an address.",
        claim=Claim.NONE,
        hint="In which column does an address belong, and in which its mask?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-inverted",
        questions=LENGTH_QUESTIONS,
        priority=9,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.ONES_ON_HOST_SIDE),
        explanation=(
            "{given} has its ones on the host side: it is an inverted mask. A mask has them on the network side."
        ),
        consequence="The device refuses it, or compares the wrong bits and takes almost every address for a far one.",
        claim=Claim.NONE,
        hint="Which part of an address do the ones of a mask stand for?",
        source="RFC 4632 section 3.1; RFC 1812 section 2.2.5.2",
    ),
    Mistake(
        id="mask-not-contiguous",
        questions=LENGTH_QUESTIONS,
        priority=10,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.ONES_APART, TextFlaw.ONES_ON_HOST_SIDE),
        explanation=(
            "Written in binary, {given} has a one to the right of a zero. "
            "In a mask all ones stand together at the left."
        ),
        consequence="Every device refuses such a value, and the network behind it is never set up.",
        claim=Claim.NONE,
        hint="Write the four numbers in binary: do the ones start again after they have stopped?",
        source="RFC 4632 section 5.1; RFC 1812 section 2.2.5.2",
    ),
    Mistake(
        id="mask-written-as-length",
        questions=frozenset({subnets.MASK.id}),
        priority=11,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.LENGTH_FOR_DOTTED),
        explanation=(
            "{given} is a prefix length. This column wants the same thing as a mask, in four numbers with dots."
        ),
        consequence="A device that asks for a dotted mask takes no other form.",
        claim=Claim.NONE,
        hint="If so many ones stand at the left, what are the four numbers?",
        source="RFC 4632 section 3.1; the form of writing: common practice, no source",
    ),
    Mistake(
        id="prefix-past-the-last-bit",
        questions=LENGTH_QUESTIONS - {subnets.MASK.id},
        priority=11,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.PAST_LAST_BIT),
        explanation="{given} counts more bits than an address has.",
        consequence="Every device refuses such a value.",
        claim=Claim.NONE,
        hint="How many bits have four numbers of eight bits each?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-all-zeros",
        questions=LENGTH_QUESTIONS - _ROUTE,
        priority=9,
        charged=Charged.EACH_TIME,
        fits=when.is_all_zeros,
        explanation="A mask of zeros only covers every address there is. It names no network.",
        consequence="A device with such a mask takes every address for a local one and sends nothing through a gateway.",
        claim=Claim.NO_ANSWER,
        hint="How many bits at the left are the same in all addresses of this network?",
        source="RFC 4632 section 5.1; RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="mask-all-ones",
        questions=LENGTH_QUESTIONS - _ROUTE,
        priority=9,
        charged=Charged.EACH_TIME,
        fits=when.is_all_ones,
        explanation="A mask of ones only leaves no host bits. The network is a single address then.",
        consequence="A device with such a mask finds no neighbour, as every other address looks far away to it.",
        claim=Claim.NO_ANSWER,
        hint="How many bits must stay free to count the devices of this network?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="mask-leaves-no-hosts",
        questions=_VLAN_LENGTHS,
        priority=10,
        charged=Charged.EACH_TIME,
        fits=when.leaves_no_hosts,
        explanation=(
            "One host bit is left, which is for a link with two ends. "
            "A VLAN also needs a network and a broadcast address."
        ),
        consequence="The stations of the VLAN find no room beside the gateway.",
        claim=Claim.NO_ANSWER,
        hint="How many addresses does one host bit count, and how many does this VLAN need?",
        source="RFC 3021 section 2.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="prefix-is-host-bits",
        questions=LENGTH_QUESTIONS - {subnets.MASK.id},
        priority=12,
        charged=Charged.EACH_TIME,
        fits=when.counts_host_bits,
        explanation="{given} counts the host bits. The prefix length counts the network bits, from the left.",
        consequence="The network becomes much too large or much too small.",
        claim=Claim.NONE,
        hint="An address has network bits and host bits: which of the two does this number count?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-classful-default",
        questions=_VLAN_LENGTHS,
        priority=13,
        charged=Charged.EACH_TIME,
        fits=when.is_classful,
        explanation=(
            "{given} is what this address would have had in the days of address classes. "
            "Today the plan sets the length."
        ),
        consequence="Where another network falls under this mask, it looks local; elsewhere nothing shows yet.",
        claim=Claim.NONE,
        hint="Leave the first number aside: how many addresses does the plan give this network?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-right-value-wrong-octet",
        questions=LENGTH_QUESTIONS,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=when.is_in_wrong_octet,
        explanation="The boundary has the right place within its number, but stands in the wrong one of the four.",
        consequence="The network is hundreds of times too large or too small.",
        claim=Claim.NONE,
        hint="In which of the four numbers do network bits and host bits meet?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="prefix-forgot-reserved-two",
        questions=_VLAN_PLAN,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.forgets_reserved_two,
        explanation=(
            "So many addresses are just enough if all can be used. The first and the last one of a network cannot."
        ),
        consequence="The last stations of the VLAN stay without an address.",
        claim=Claim.NO_ANSWER,
        hint="Which two addresses are never given to a device, and what is left without them?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="mask-one-bit-long",
        questions=_VLAN_PLAN,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_one_bit_long,
        explanation="There is one network bit too many, so the network has half of the size it needs.",
        consequence="There is no room for all the addresses that the VLAN needs.",
        claim=Claim.NONE,
        hint="How many devices do the remaining host bits count, and how many does table Networks name?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="mask-covers-half",
        questions=frozenset({stations.STATION_MASK.id}),
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_one_bit_long,
        explanation="There is one network bit more than in the mask of this network, so only half of it counts as local.",
        consequence=(
            "Stations of the other half look far away: what is sent to them takes a detour over the "
            "gateway, or fails where the gateway is in that half."
        ),
        claim=Claim.NONE,
        hint="Which mask did you write for this VLAN on sheet Subnets?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.3",
    ),
    Mistake(
        id="scope-mask-covers-half",
        questions=frozenset({pools.POOL_MASK.id}),
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_one_bit_long,
        explanation="There is one network bit more than in the mask of this network, so only half of it counts as local.",
        consequence="The pool runs past the network of this mask: a server refuses it, and may not start at all.",
        claim=Claim.NONE,
        hint="Which mask did you write for this VLAN on sheet Subnets?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.3",
    ),
    Mistake(
        id="mask-one-bit-short",
        questions=_VLAN_LENGTHS,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.covers_neighbour,
        explanation=(
            "There is one network bit too few, so the network is twice as large as it should be. "
            "It covers its neighbour too."
        ),
        consequence=(
            "With such a mask addresses of the other network look local, so whatever would be sent to them never reaches "
            "the gateway."
        ),
        claim=Claim.NONE,
        hint="Which are the first and the last address under this mask, and whose are they in the plan?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="mask-twice-the-size",
        questions=_VLAN_PLAN,
        priority=16,
        charged=Charged.EACH_TIME,
        fits=when.is_one_bit_short,
        explanation=(
            f"There is one network bit too few, so the network is twice as large as rule {HouseRule.SIZE} asks. "
            "Nothing else of your plan lies in it."
        ),
        consequence="Half of its addresses are never needed, and they may be missing at the end of the block.",
        claim=Claim.NONE,
        hint="Which is the smallest network that holds the addresses needed, without the two that no device can have?",
        source=f"rule {HouseRule.SIZE} of this lab; RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-not-of-this-prefix",
        questions=frozenset({subnets.MASK.id}),
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.differs_from_prefix,
        explanation="Prefix length and mask of this row do not say the same. They are two ways to write one thing.",
        consequence="The VLAN interface gets another network than the one you planned.",
        claim=Claim.NONE,
        hint="How many ones does your mask have, and which number stands under prefix length in this row?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="length-of-another-network",
        questions=_VLAN_PLAN,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=when.is_another_networks,
        explanation="This is the length of another VLAN of your plan, not of this row's network.",
        consequence="Some addresses of the network are left out, or others are drawn in.",
        claim=Claim.NONE,
        hint="How many addresses does this VLAN need, and how many bits count them?",
        source="RFC 1122 section 3.3.1.1; the slip: common practice, no source",
    ),
    Mistake(
        id="mask-of-another-network",
        questions=_COPIES | _ROUTE,
        priority=17,
        charged=Charged.EACH_TIME,
        fits=when.is_another_networks,
        explanation="This is the mask of another VLAN of your plan, not of this row's network.",
        consequence="Some addresses of the network are left out, or others are drawn in.",
        claim=Claim.NONE,
        hint="Which VLAN is this row about, and what does sheet Subnets say of it?",
        source="RFC 1122 section 3.3.1.1; the slip: common practice, no source",
    ),
    Mistake(
        id="mask-of-a-link",
        questions=_VLAN_LENGTHS | _ROUTE,
        priority=14,
        charged=Charged.EACH_TIME,
        fits=when.is_a_links,
        explanation="This is the mask of the links between switches. The network of a VLAN has a mask of its own.",
        consequence="All but a few addresses of the VLAN fall outside it: they look far away, or have no route.",
        claim=Claim.NONE,
        hint="Is this row about a link or about a VLAN?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-differs-from-plan",
        questions=_COPIES,
        priority=18,
        charged=Charged.EACH_TIME,
        fits=always,
        explanation=(
            "The network of this VLAN has another mask in your plan. All devices in one network need the same mask."
        ),
        consequence="Two devices of one VLAN disagree about which addresses are local.",
        claim=Claim.NONE,
        hint="Which mask did you write for this VLAN on sheet Subnets?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.3",
    ),
    Mistake(
        id="mask-rounded-to-octet",
        questions=_VLAN_PLAN,
        priority=19,
        charged=Charged.EACH_TIME,
        fits=when.is_rounded_to_octet,
        explanation=(
            "You let the network end at a dot. The boundary may stand inside a number, wherever the size asks for it."
        ),
        consequence="Addresses are set aside for nothing, or are missing.",
        claim=Claim.NONE,
        hint="Between which powers of two does the number of addresses needed lie?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="mask-too-long",
        questions=_VLAN_PLAN,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=when.is_too_long,
        explanation="The mask is several bits too long, so the network holds far fewer devices than the VLAN needs.",
        consequence="There is room for a small part only of the addresses that the VLAN needs.",
        claim=Claim.NONE,
        hint="How many host bits are left, and how far do they count?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="mask-too-short",
        questions=_VLAN_PLAN,
        priority=30,
        charged=Charged.EACH_TIME,
        fits=when.is_too_short_and_covers_others,
        explanation=(
            "The mask is several bits too short. The network is much larger than needed and covers others as well."
        ),
        consequence=(
            "With such a mask addresses of other VLANs look local, so whatever would be sent to them never reaches the gateway."
        ),
        claim=Claim.NONE,
        hint="Which is the last address under this mask, and who else has addresses in that range?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="mask-sets-too-much-aside",
        questions=_VLAN_PLAN,
        priority=31,
        charged=Charged.EACH_TIME,
        fits=when.is_too_short,
        explanation=(
            f"The mask is several bits too short, so the network is much larger than rule {HouseRule.SIZE} asks. "
            "Nothing else of your plan lies in it."
        ),
        consequence="Most of its addresses are never needed, and they may be missing at the end of the block.",
        claim=Claim.NONE,
        hint="Which is the smallest network that holds the addresses needed, without the two that no device can have?",
        source=f"rule {HouseRule.SIZE} of this lab; RFC 4632 section 3.1",
    ),
    Mistake(
        id="p2p-mask-not-as-agreed",
        questions=_LINK,
        priority=11,
        charged=Charged.ONCE,
        fits=when.would_hold_two,
        explanation=(
            f"This length would hold two devices, too. It is not the one that rule {HouseRule.LINKS} of this lab sets."
        ),
        consequence=(
            f"Ends that follow rule {HouseRule.LINKS} do not hear each other under it; ends that follow this mask "
            "do, but stand elsewhere than the rules say."
        ),
        claim=Claim.NO_ANSWER,
        hint="Which length does the Brief name for links?",
        source="RFC 3021 section 2.1; the length itself is a rule of this lab",
    ),
    Mistake(
        id="p2p-lan-sized-mask",
        questions=_LINK,
        priority=15,
        charged=Charged.EACH_TIME,
        fits=when.would_hold_many,
        explanation="A link has two ends and needs two addresses. This mask sets aside many more.",
        consequence=(
            "Where so wide a network covers others, packets for them go astray; elsewhere addresses "
            "are set aside that nobody uses."
        ),
        claim=Claim.NONE,
        hint="How many devices will ever stand on this link?",
        source="RFC 3021 section 1",
    ),
    Mistake(
        id="route-host-route-only",
        questions=_ROUTE,
        priority=9,
        charged=Charged.EACH_TIME,
        fits=when.is_all_ones,
        explanation="A mask of ones only makes a route to one single address.",
        consequence="Not more than one device of the far network answers.",
        claim=Claim.NO_ANSWER,
        hint="Is the route meant for one device or for a whole network?",
        source="RFC 4632 section 3.1; RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-mask-too-long",
        questions=_ROUTE,
        priority=20,
        charged=Charged.EACH_TIME,
        fits=when.is_too_long,
        explanation="With this mask the route covers only a part of the far network.",
        consequence="Packets to the part that is left out find no route by this row.",
        claim=Claim.NO_ANSWER,
        hint="Which is the highest address your route covers, and who lies above it?",
        source="RFC 1812 section 5.2.4.3",
    ),
)
