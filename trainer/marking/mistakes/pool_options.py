"""Mistakes in the options of sheet Pools that name a server."""

from typing import Any

from trainer.lab.form import Question
from trainer.lab.questions import pools
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes import pools_predicates, relays_predicates
from trainer.marking.mistakes.mistake import Charged, Claim, Flaw, Mistake

__all__ = ["OPTION_MISTAKES"]


def _in_server_option(
    option: Question[Any, Any],
    ids: str,
    source: str,
    *,
    does: str,
    does_not: str,
    do_not: str,
    what: str,
    one: str,
    without: str,
    who: str,
) -> tuple[Mistake, ...]:
    """The mistakes in an option that names the DHCP server, which does that too.

    ids: what their ids begin with; does, does_not, do_not: what that server does, a switch does not and switches do not;
    what, one: what clients ask for; without: what comes of a blank cell; who: the hint there.
    """
    questions = frozenset({option.id})
    return (
        Mistake(
            id=f"{ids}-missing",
            questions=questions,
            priority=9,
            flaws=frozenset({Flaw.BLANK}),
            fits=pools_predicates.is_the_only_gap,
            explanation=f"This cell is empty, so the pool tells its clients of no {option.heading}.",
            consequence=without,
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=who,
            source=source,
        ),
        Mistake(
            id=f"{ids}-is-router",
            questions=questions,
            priority=10,
            fits=address.is_own_gateway,
            explanation=f"{{given}} is the gateway of this VLAN. It routes and {does_not}.",
            consequence=f"Clients ask a switch for {what} and get no answer.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Which device of this lab {does}?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-is-server-gateway",
            questions=questions,
            priority=11,
            fits=relays_predicates.is_server_gateway,
            explanation="{given} is the gateway in front of the server, not the server.",
            consequence=f"Clients ask a switch for {what} and get no answer.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Two devices of the server's VLAN have fixed addresses: which of them {does}?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-is-broadcast",
            questions=questions,
            priority=4,
            fits=relays_predicates.is_broadcast,
            explanation="{given} is a broadcast address. The option holds the address of one server.",
            consequence=f"No client can ask for {one} there.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Which single device {does}?",
            source=f"{source}; RFC 1122 section 3.2.1.3",
        ),
        Mistake(
            id=f"{ids}-is-network",
            questions=questions,
            priority=12,
            fits=relays_predicates.is_network,
            explanation="{given} names a whole network, not a server.",
            consequence=f"No client can ask for {one} there.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Which single device {does}?",
            source=f"{source}; RFC 1122 section 3.2.1.3",
        ),
        Mistake(
            id=f"{ids}-on-a-link",
            questions=questions,
            priority=13,
            fits=address.is_on_link,
            explanation=f"{{given}} is an end of a link between switches. Switches {do_not}.",
            consequence=f"Clients ask a switch for {what} and get no answer.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Which device of this lab {does}?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-another-gateway",
            questions=questions,
            priority=14,
            fits=address.is_other_gateway,
            explanation=f"{{given}} is the gateway of another VLAN. Switches {do_not}.",
            consequence=f"Clients ask a switch for {what} and get no answer.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint=f"Which device of this lab {does}?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-is-station",
            questions=questions,
            priority=15,
            fits=relays_predicates.is_client,
            explanation=f"{{given}} is for an ordinary station. It {does_not}.",
            consequence="Clients ask a station that does not answer, or nobody.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint="On which row of sheet Stations does the server stand?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-beside-server",
            questions=questions,
            priority=16,
            fits=relays_predicates.is_beside_server,
            explanation="{given} is in the server's network, but the server has another address there.",
            consequence=f"Nobody {does} at that address.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint="Which address did you write for the server on sheet Stations?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-in-clients-network",
            questions=questions,
            priority=17,
            fits=address.is_in_own_network,
            explanation="{given} is in the clients' own network, and the server is not.",
            consequence="Clients look for the server beside them, where nobody answers.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint="In which VLAN does the server stand?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-elsewhere-in-plan",
            questions=questions,
            priority=20,
            fits=relays_predicates.is_in_plan,
            explanation="{given} is in your plan, but it is not the server's address.",
            consequence=f"Clients ask for {what} where nobody answers.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint="On which row of sheet Stations does the server stand?",
            source=source,
        ),
        Mistake(
            id=f"{ids}-nobody",
            questions=questions,
            priority=21,
            fits=relays_predicates.is_nobody,
            explanation="{given} is in no network of your plan, so no server can be there.",
            consequence=f"Clients ask for {what} where nobody answers.",
            claim=Claim.OTHER_LEASE,
            charged=Charged.EACH_TIME,
            hint="On which row of sheet Stations does the server stand?",
            source=source,
        ),
    )


OPTION_MISTAKES: tuple[Mistake, ...] = (
    *_in_server_option(
        pools.POOL_DNS,
        "scope-dns",
        "RFC 2132 section 3.8",
        does="resolves names",
        does_not="resolves no names",
        do_not="resolve no names",
        what="names",
        one="a name",
        without="Clients reach every address and resolve no name.",
        who="Whom does a client ask for the address behind a name?",
    ),
)
