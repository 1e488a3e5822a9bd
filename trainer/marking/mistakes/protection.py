"""Mistakes on sheet Protection: three lists a switch. A list may have several faults; the gravest is said."""

from trainer.lab.questions import protection
from trainer.marking.mistakes import protection_predicates as when
from trainer.marking.mistakes.mistake import Claim, Flaw, Mistake
from trainer.marking.plan_view import PortRole

__all__ = ["PROTECTION_MISTAKES"]

_SNOOPED = frozenset({protection.SNOOPED.id})
_TRUSTED = frozenset({protection.TRUSTED.id})
_GUARDED = frozenset({protection.GUARDED.id})
_PORT_LISTS = _TRUSTED | _GUARDED

PROTECTION_MISTAKES: tuple[Mistake, ...] = (
    # Snooped VLANs
    Mistake(
        id="snoop-enabled-without-vlan",
        questions=_SNOOPED,
        priority=8,
        flaws=frozenset({Flaw.WRONG, Flaw.BLANK}),
        fits=when.snoops_on_nothing,
        explanation="No VLAN is listed, so snooping works on nothing here, whatever else is set on the switch.",
        consequence="False offers are believed, no binding row is learnt, and clients on guarded ports are locked out.",
        claim=Claim.NONE,
        hint="Which networks on this switch are marked under Snooping?",
        source="RFC 7513 section 4.2.3; common practice, no source",
    ),
    Mistake(
        id="snoop-on-switch-without-need",
        questions=_SNOOPED,
        priority=9,
        fits=when.should_be_empty,
        explanation="No network on this switch is marked under Snooping, so the list stays empty here.",
        consequence="The switch starts to drop server messages that nobody asked it to check.",
        claim=Claim.NONE,
        hint="What stands under Snooping for the networks of this switch?",
        source="rule Snooping of this lab; common practice, no source",
    ),
    Mistake(
        id="snoop-list-holds-ports",
        questions=_SNOOPED,
        priority=10,
        fits=when.is_port_list,
        explanation="What stands here are ports of this switch. This column asks for VLANs.",
        consequence="Snooping works on VLANs that do not exist, and not on those that do.",
        claim=Claim.NONE,
        hint="In which column of this row do port numbers stand?",
        source="RFC 7513 section 4.2.3; the slip: common practice, no source",
    ),
    Mistake(
        id="snoop-list-of-another-switch",
        questions=_SNOOPED,
        priority=11,
        fits=when.is_of_another_switch,
        explanation="This is the list of another switch. VLANs of this lab end at their switch.",
        consequence="No VLAN of this switch is protected, and its clients get no binding rows.",
        claim=Claim.NONE,
        hint="Which VLANs have their gateway on this switch?",
        source="rule Snooping of this lab; common practice, no source",
    ),
    Mistake(
        id="snoop-lists-all-vlans",
        questions=_SNOOPED,
        priority=12,
        fits=when.lists_all_vlans,
        explanation="You listed every VLAN of the lab. A switch snoops on the marked ones that it has itself.",
        consequence=(
            "Nothing is stopped that should pass, but whoever reads the list looks for VLANs that are not there."
        ),
        claim=Claim.NO_HARM,
        hint="Which VLANs have their gateway on this switch, and which of them are marked?",
        source="rule Snooping of this lab; common practice, no source",
    ),
    Mistake(
        id="snoop-vlan-of-another-switch",
        questions=_SNOOPED,
        priority=13,
        fits=when.lists_foreign_vlan,
        explanation="The list holds a VLAN of another switch. Links of this lab carry no VLAN, so it never comes here.",
        consequence="The entry does nothing here, and fault finding starts at the wrong switch.",
        claim=Claim.NO_HARM,
        hint="Which VLAN of your list has a port on this switch?",
        source="rules Links and Snooping of this lab; common practice, no source",
    ),
    Mistake(
        id="snoop-server-vlan-missing",
        questions=_SNOOPED,
        priority=14,
        fits=when.misses_server_vlan,
        explanation=(
            "The server's VLAN is missing. "
            "It is marked like the others, as a false server may be plugged in there, too."
        ),
        consequence="A false server beside the true one is heard by everybody in that VLAN.",
        claim=Claim.NONE,
        hint="Which networks on this switch are marked under Snooping?",
        source="RFC 7513 section 4.3.2; rule Snooping of this lab",
    ),
    Mistake(
        id="snoop-default-vlan",
        questions=_SNOOPED,
        priority=14,
        fits=when.lists_default_vlan,
        explanation="The list holds the VLAN in which unconfigured ports are. No network of this lab is there.",
        consequence="The entry protects nobody.",
        claim=Claim.NO_HARM,
        hint="Which numbers are in table Networks?",
        source="common practice, no source",
    ),
    Mistake(
        id="snoop-vlan-not-in-lab",
        questions=_SNOOPED,
        priority=15,
        fits=when.lists_unknown_vlan,
        explanation="The list holds a number that no VLAN of the lab has.",
        consequence="Snooping works on a VLAN without ports, and perhaps not on the one that was meant.",
        claim=Claim.NONE,
        hint="Do you find every number of your list in table Networks?",
        source="common practice, no source",
    ),
    Mistake(
        id="snoop-vlan-extra",
        questions=_SNOOPED,
        priority=16,
        fits=when.lists_unmarked_vlan,
        explanation="The list holds a VLAN of this switch that is not marked under Snooping.",
        consequence="The switch checks server messages where the plan wants no check.",
        claim=Claim.NONE,
        hint="What stands under Snooping for each VLAN of your list?",
        source="rule Snooping of this lab; common practice, no source",
    ),
    Mistake(
        id="snoop-fixed-vlan-missing",
        questions=_SNOOPED,
        priority=17,
        fits=when.misses_only_vlans_without_clients,
        explanation="A marked VLAN without clients is missing. The mark decides, not who is in the VLAN today.",
        consequence="The next client that is plugged in there believes any false server.",
        claim=Claim.NONE,
        hint="Which networks on this switch are marked under Snooping?",
        source="RFC 7513 section 4.3.2; rule Snooping of this lab",
    ),
    Mistake(
        id="snoop-vlan-missing",
        questions=_SNOOPED,
        priority=18,
        fits=when.misses_some,
        explanation="A marked VLAN of this switch is missing from the list.",
        consequence=(
            "No binding row is learnt there, so clients on guarded ports are locked out, and false offers are believed."
        ),
        claim=Claim.NONE,
        hint="Which networks on this switch are marked, and is each of them in your list?",
        source="RFC 7513 section 4.2.3 and section 4.3.2",
    ),
    # Trusted ports
    Mistake(
        id="trust-nowhere",
        questions=_TRUSTED,
        priority=8,
        fits=when.is_empty,
        explanation="No port is trusted, so this switch drops the messages of the true server as well.",
        consequence="As soon as snooping is on, no client behind this switch gets an address.",
        claim=Claim.NO_LEASE,
        hint="Through which port do the server's messages come into this switch?",
        source="RFC 7513 section 4.2.2 and section 8.2; rule Snooping of this lab",
    ),
    Mistake(
        id="trust-without-snooping",
        questions=_TRUSTED,
        priority=9,
        fits=when.is_needless_trust,
        explanation="No VLAN is snooped on this switch, so it checks nothing and trust has no meaning here.",
        consequence="Nothing changes today, but the port is open on the day when snooping is switched on.",
        claim=Claim.NO_HARM,
        hint="What does rule Snooping say about a switch without a snooped VLAN?",
        source="rule Snooping of this lab; RFC 7513 section 4.2.2",
    ),
    Mistake(
        id="trust-list-holds-vlans",
        questions=_PORT_LISTS,
        priority=9,
        fits=when.is_vlan_list,
        explanation="What stands here are VLANs. This column asks for port numbers.",
        consequence="The setting is made on ports that do not exist, and not on those that do.",
        claim=Claim.NONE,
        hint="In which column of this row do VLANs stand?",
        source="RFC 7513 section 4.2.2; the slip: common practice, no source",
    ),
    Mistake(
        id="trust-everywhere",
        questions=_TRUSTED,
        priority=10,
        fits=when.trusts_every_station,
        explanation="Every port with a station is trusted. Where everything is trusted, snooping checks nothing.",
        consequence=(
            "Every station can play the server; and no row is learnt on a trusted port, so where source "
            "guard is on the station is cut off."
        ),
        claim=Claim.NONE,
        hint="How many ports lead to the true server?",
        source="RFC 7513 section 4.2.2 and section 4.3.2",
    ),
    Mistake(
        id="trust-is-guard-list",
        questions=_TRUSTED,
        priority=11,
        fits=when.is_right_for(protection.GUARDED),
        explanation=(
            "These ports would be right in the column for source guard. Trust means: server messages may come in here."
        ),
        consequence="Every client may play the server, while the true one is dropped.",
        claim=Claim.NO_LEASE,
        hint="Which of the two columns is about the server, and which about stations?",
        source="RFC 7513 section 4.2.2 and section 8.2",
    ),
    Mistake(
        id="trust-list-of-another-switch",
        questions=_PORT_LISTS,
        priority=12,
        fits=when.is_of_another_switch,
        explanation="This is the list of another switch. Port numbers mean something on their own switch only.",
        consequence="On this switch other things are plugged into these ports, and the ones meant are left out.",
        claim=Claim.NONE,
        hint="What is plugged into these ports on this very switch?",
        source="common practice, no source",
    ),
    Mistake(
        id="trust-station-for-server",
        questions=_TRUSTED,
        priority=13,
        fits=when.adds_and_leaves_out(PortRole.STATION, PortRole.SERVER),
        explanation="You trust a station and not the server. Server messages come in at the server's own port first.",
        consequence="The true offers are lost at the first port, and the station could send false ones.",
        claim=Claim.NO_LEASE,
        hint="Which port does table Stations name for the server?",
        source="RFC 7513 section 4.3.2 and section 8.2",
    ),
    Mistake(
        id="trust-wrong-direction",
        questions=_TRUSTED,
        priority=13,
        fits=when.adds_and_leaves_out(PortRole.DOWNLINK, PortRole.UPLINK),
        explanation="You trust the link that leads away from the server. Its messages come in from the other side.",
        consequence="Offers are dropped where they come in, and a false server on the far side is believed.",
        claim=Claim.NO_LEASE,
        hint="In which direction is the server, seen from this switch?",
        source="RFC 7513 section 4.3.2 and section 4.3.3; rule Snooping of this lab",
    ),
    Mistake(
        id="trust-on-client-port",
        questions=_TRUSTED,
        priority=14,
        fits=when.adds(PortRole.STATION),
        explanation=(
            "A port with a station is trusted. "
            "Trust says that server messages may come in, which snooping should prevent there."
        ),
        consequence="Whatever is plugged in there can play the server; and no row is learnt there, so source guard, where it "
        "is on, cuts the station off.",
        claim=Claim.NONE,
        hint="From which direction do true offers come to this switch?",
        source="RFC 7513 section 4.2.2 and section 4.3.2; RFC 2131 section 7",
    ),
    Mistake(
        id="trust-on-downlink",
        questions=_TRUSTED,
        priority=15,
        fits=when.adds(PortRole.DOWNLINK),
        explanation=(
            "A link that leads away from the server is trusted. The server's messages go out there and never come in."
        ),
        consequence="A false server behind or on that link is believed.",
        claim=Claim.ATTACK_PASSES,
        hint="Standing on this switch, in which direction is the server?",
        source="RFC 7513 section 4.3.2 and section 4.3.3; rule Snooping of this lab",
    ),
    Mistake(
        id="trust-on-idle-uplink",
        questions=_TRUSTED,
        priority=11,
        fits=when.adds(PortRole.UPLINK),
        explanation=(
            "The link leads to the server, but nobody here or behind asks for a lease. No server message comes in."
        ),
        consequence="The port lets in false offers from the rest of the lab, for nothing in return.",
        claim=Claim.NONE,
        hint="Which client would a message on this port be for?",
        source="rule Snooping of this lab; RFC 7513 section 4.2.2",
    ),
    Mistake(
        id="trust-on-unused-port",
        questions=_TRUSTED,
        priority=17,
        fits=when.adds(PortRole.UNUSED),
        explanation="The list holds a port where nothing is plugged in. There is nobody to trust.",
        consequence="Whoever plugs in there first can play the server.",
        claim=Claim.NONE,
        hint="Which device on this port would send offers?",
        source="RFC 7513 section 4.2.2",
    ),
    Mistake(
        id="trust-missing-on-server-port",
        questions=_TRUSTED,
        priority=16,
        fits=when.leaves_out(PortRole.SERVER),
        explanation="The server's own port is not trusted. Its messages come into the network there.",
        consequence="Offers are lost at the very first port, and no client in the lab gets an address.",
        claim=Claim.NO_LEASE,
        hint="Where does an offer come into the network for the first time?",
        source="RFC 7513 section 4.3.2 and section 8.2",
    ),
    Mistake(
        id="trust-missing-on-uplink",
        questions=_TRUSTED,
        priority=16,
        fits=when.leaves_out(PortRole.UPLINK),
        explanation=("The link towards the server is not trusted. In this lab routed ports are checked, too."),
        consequence="Requests leave and the answers are dropped at this port: no client behind it gets an address.",
        claim=Claim.NO_LEASE,
        hint="Through which port does an offer come into each switch on its way?",
        source="rule Snooping of this lab; RFC 7513 section 4.2.2 and section 8.2",
    ),
    # Guarded ports
    Mistake(
        id="guard-nowhere",
        questions=_GUARDED,
        priority=8,
        fits=when.is_empty,
        explanation="No port is guarded, although networks on this switch are marked under Source guard.",
        consequence="Every station here can use any source address it likes.",
        claim=Claim.ATTACK_PASSES,
        hint="Which networks on this switch are marked, and where are their stations plugged in?",
        source="RFC 7513 section 4.2.5; rule Guard of this lab",
    ),
    Mistake(
        id="guard-everywhere",
        questions=_GUARDED,
        priority=9,
        fits=when.lists_every_port,
        explanation=(
            "Every used port is guarded, those to the server or to other switches, too. Guard is for stations alone."
        ),
        consequence="The switch is cut off from the rest of the lab, perhaps with your own session.",
        claim=Claim.NO_ANSWER,
        hint="Whose addresses come in on each of these ports?",
        source="RFC 7513 section 4.2.1 and section 4.2.6; rule Guard of this lab",
    ),
    Mistake(
        id="guard-is-trust-list",
        questions=_GUARDED,
        priority=10,
        fits=when.is_right_for(protection.TRUSTED),
        explanation="These ports would be right in the column for trust. Guard lets in a known source address only.",
        consequence="What comes from the server, or from other switches, is dropped, and stations go unchecked.",
        claim=Claim.NO_ANSWER,
        hint="Which of the two columns is about the server, and which about stations?",
        source="RFC 7513 section 4.2.6 and section 8.1",
    ),
    Mistake(
        id="guard-on-uplink",
        questions=_GUARDED,
        priority=13,
        fits=when.adds(PortRole.UPLINK, PortRole.DOWNLINK),
        explanation=(
            "A link to another switch is guarded. "
            "Packets with all kinds of source addresses come in there, and not one has a row."
        ),
        consequence="Everything from the rest of the network is dropped, perhaps your own session, too.",
        claim=Claim.NO_ANSWER,
        hint="How many different source addresses come in on this port?",
        source="RFC 7513 section 4.2.1 and section 4.2.6; rule Guard of this lab",
    ),
    Mistake(
        id="guard-on-server-port",
        questions=_GUARDED,
        priority=14,
        fits=when.adds(PortRole.SERVER),
        explanation=(
            "The server's port is guarded. "
            "It is trusted in this lab, and the server has no row that would let it through."
        ),
        consequence="The server is locked out, and no client gets an address any more.",
        claim=Claim.NO_LEASE,
        hint="What does rule Guard say about the server's port?",
        source="rule Guard of this lab; RFC 7513 section 8.1",
    ),
    Mistake(
        id="guard-on-trusted-port",
        questions=_GUARDED,
        priority=15,
        fits=when.guards_trusted_port,
        explanation=(
            "In your own answers this port is trusted and guarded at once. "
            "On a trusted port no row is learnt, so nothing gets through."
        ),
        consequence="Whatever comes in on this port is dropped.",
        claim=Claim.NO_ANSWER,
        hint="Does this port lead to a station or to the server: what can it not be both of?",
        source="RFC 7513 section 4.2.1 and section 4.2.6",
    ),
    Mistake(
        id="guard-on-unused-port",
        questions=_GUARDED,
        priority=16,
        fits=when.adds(PortRole.UNUSED),
        explanation="The list holds a port where nothing is plugged in.",
        consequence="Nothing breaks today; the station that is plugged in there some day is locked out.",
        claim=Claim.NO_HARM,
        hint="Which station is on each port of your list?",
        source="rule Guard of this lab; common practice, no source",
    ),
    Mistake(
        id="guard-without-snooping",
        questions=_GUARDED,
        priority=18,
        fits=when.guards_unsnooped_client,
        explanation=(
            "A client's port is guarded although its VLAN is not in your snooping list. No row is ever learnt there."
        ),
        consequence="The client gets an address, and then nothing it sends gets through.",
        claim=Claim.NO_ANSWER,
        hint="Where do the rows come from that guard looks at?",
        source="RFC 7513 section 4.2.3 and section 8.1",
    ),
    Mistake(
        id="guard-on-other-client-port",
        questions=_GUARDED,
        priority=20,
        fits=when.adds(PortRole.STATION),
        explanation="The port of a station is guarded whose network is not marked under Source guard.",
        consequence="The station is locked out as long as it has no binding row.",
        claim=Claim.NO_ANSWER,
        hint="What stands under Source guard for the network of each port in your list?",
        source="rule Guard of this lab; RFC 7513 section 8.1",
    ),
    Mistake(
        id="guard-missing-on-fixed-station",
        questions=_GUARDED,
        priority=28,
        fits=when.misses_only_fixed_stations,
        explanation=(
            "Only the port of a station with a fixed address is left out. "
            "It is guarded, too, with a row written by hand."
        ),
        consequence="This station can use any source address it likes.",
        claim=Claim.ATTACK_PASSES,
        hint="Does rule Guard ask how a station got its address?",
        source="rule Guard of this lab; RFC 7513 section 4.2.5",
    ),
    Mistake(
        id="guard-missing-on-client-port",
        questions=_GUARDED,
        priority=30,
        fits=when.misses_some,
        explanation="The port of a station is left out although its network is marked under Source guard.",
        consequence="This station can use any source address it likes.",
        claim=Claim.ATTACK_PASSES,
        hint="Which stations are in the marked networks, and is each of their ports in your list?",
        source="RFC 7513 section 4.2.5; RFC 2827; rule Guard of this lab",
    ),
)
