"""Labs to practise on: the sizes are dealt to the networks anew each time, the block may be roomier, and one or two sheets may
be asked alone.

A class is drawn equally hard. Whoever practises alone would learn such labs by heart: after the first one all offsets are
known. So nothing here is drawn once for many labs.
"""

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import mean

from trainer.lab.dependencies import sections_rest_on
from trainer.lab.draw import ClassDraw, draw_class
from trainer.lab.draw_network import draw_for_class
from trainer.lab.exercise import Exercise, ExerciseKind, ListedNetwork, Numbers
from trainer.lab.layout import lay_out
from trainer.lab.plan import lengths_in_order, smallest_block_length
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.scenario import Asked, GatewayPlace, Order, Scenario, SectionShare
from trainer.network.addresses import LONGEST_NETWORK, fewest_needed, prefix_length_for, usable_count
from trainer.study.replay import Study
from trainer.study.support import FULL_EXAMPLE, OTHER_SETTING, level

__all__ = ["Wanted", "can_be_asked", "draw_for_practice", "short", "support_for"]

_DEALS = 100
"""So often sizes are dealt before each network keeps its own."""
_OTHER_ORDERS = {Order.LARGEST_FIRST: Order.AS_LISTED, Order.AS_LISTED: Order.LARGEST_FIRST}
_OTHER_GATEWAYS = {
    GatewayPlace.FIRST_USABLE: GatewayPlace.LAST_USABLE,
    GatewayPlace.LAST_USABLE: GatewayPlace.FIRST_USABLE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a practice lab is drawn for."""

    sheets: tuple[str, ...] = ()
    """Ids of the sections that are asked, in the order of the form; () for all that the exercise asks."""
    support: int | None = None
    """1 to 5; None where nobody said."""
    level: int | None = None
    """How hard faults are to find, 1 to 5; None for what the exercise says."""


def support_for(study: Study, exercise: Exercise, sheets: Sequence[str]) -> int:
    """The level of support, 1 to 5, by the mean of the ratings of what a lab of the exercise asks.

    sheets: ids of those that are asked alone; () for all.
    """
    asked = sheets or [share.section for share in exercise.sections if share.asked is Asked.YES]
    concepts = {question.concept for sheet in asked for question in SECTIONS[sheet].questions}
    thetas = [state.theta for concept, state in study.concepts.items() if concept in concepts]
    return level(mean(thetas)) if thetas else FULL_EXAMPLE


def draw_for_practice(exercise: Exercise, support: int, rng: random.Random) -> tuple[Exercise, ClassDraw]:
    """The exercise that one practice lab is drawn from, and its sizes and lengths.

    Sizes stay between the smallest and the largest of the exercise, so that the lab is about as hard. At the highest level
    of support order and gateway are others than the exercise's; a free choice stays free, and ranges stay ranges.

    A network with faults in it is drawn as for a class: what its faults are is drawn anew each time.
    """
    if exercise.kind is ExerciseKind.FAULTS:
        return exercise, draw_class(exercise, rng)
    if support == OTHER_SETTING:
        exercise = _in_another_setting(exercise)
    laid_out = lay_out(exercise, rng)
    dealt = _with_a_block(replace(laid_out, networks=_dealt(laid_out, rng)), rng) or laid_out
    return dealt, draw_for_class(dealt, rng)


def _in_another_setting(exercise: Exercise) -> Exercise:
    rules = exercise.rules
    return replace(
        exercise,
        rules=replace(
            rules,
            order=_OTHER_ORDERS.get(rules.order, rules.order),
            gateway=_OTHER_GATEWAYS.get(rules.gateway, rules.gateway),
        ),
    )


def _dealt(exercise: Exercise, rng: random.Random) -> tuple[ListedNetwork, ...]:
    """The networks, each with a size that is dealt to it; sources are made different, since a size is drawn for each."""
    networks = [replace(network, source=place) for place, network in enumerate(exercise.networks)]
    own = [prefix_length_for(exercise.drawn_needs(network).draw(rng)) for network in networks]
    shortest, longest = min(own), max(own)
    if shortest == longest:
        shortest, longest = shortest - 1, min(longest + 1, LONGEST_NETWORK - 1)
    for _ in range(_DEALS):
        lengths = [_near(length, shortest, longest, rng) for length in rng.sample(own, len(own))]
        needs = [_needs(exercise, network, length) for network, length in zip(networks, lengths, strict=True)]
        if all(needs):
            return tuple(
                replace(network, addresses_needed=numbers) for network, numbers in zip(networks, needs, strict=True)
            )
    return tuple(networks)


def _near(length: int, shortest: int, longest: int, rng: random.Random) -> int:
    """The length itself two times of three, else the next one to either side."""
    return min(max(length + rng.choice((-1, 0, 0, 0, 0, 1)), shortest), longest)


def _needs(exercise: Exercise, network: ListedNetwork, length: int) -> Numbers:
    """Which addresses needed give that network this length, and room for its stations and its pool; there may be none."""
    fewest = max(fewest_needed(length), exercise.stations_of(network) + 1)
    most = usable_count(length)
    numbers = Numbers(((fewest, most),) if fewest <= most else ())
    return numbers.within(exercise.needs_served(network)) if network.dhcp_stations else numbers


def _with_a_block(exercise: Exercise, rng: random.Random) -> Exercise | None:
    """The exercise with a block that its largest draw fits into, every second time a roomier one; None where the address
    ranges hold no such block.
    """
    homes = [network.switch for network in exercise.networks]
    needed = [network.addresses_needed.highest for network in exercise.networks]
    lengths = lengths_in_order(needed, homes, len(exercise.links), exercise.link_lengths.lowest, exercise.rules.order)
    tight = smallest_block_length(lengths)
    for length in (tight - rng.randrange(2), tight):
        if length > 0 and exercise.separate_labs(length):
            return replace(exercise, block_length=length)
    return None


def can_be_asked(exercise: Exercise, scenario: Scenario) -> tuple[str, ...]:
    """Ids of the sections that a short lab of the exercise can ask: those that it asks or gives, and that have rows."""
    offered = {share.section for share in exercise.sections if share.asked is not Asked.NO}
    return tuple(section.id for section in FORM if section.id in offered and section.rows(scenario))


def short(scenario: Scenario, sheets: Sequence[str]) -> Scenario:
    """The lab with these sheets alone to be filled in. Of the others those stand there filled in that the exercise asks or
    gives, and those that the asked ones rest on; but such as would give away what is asked are left out.

    sheets: ids, at least one, each of which has rows in this lab.
    """
    direct = sections_rest_on(scenario)
    needed = set().union(*(_closure(direct, sheet) for sheet in sheets))
    shares = []
    for share in scenario.sections:
        tells = _closure(direct, share.section) & set(sheets)
        asked = Asked.NO
        if share.section in sheets:
            asked = Asked.YES
        elif not tells and (share.asked is not Asked.NO or share.section in needed):
            asked = Asked.GIVEN
        shares.append(SectionShare(section=share.section, asked=asked, share=0))
    return replace(scenario, minutes=None, sections=tuple(_with_shares(shares)))


def _with_shares(shares: Iterable[SectionShare]) -> Iterator[SectionShare]:
    """Equal shares of a hundred for what is asked; practice shows none of them."""
    shares = tuple(shares)
    asked = [share.section for share in shares if share.asked is Asked.YES]
    for share in shares:
        part = 0
        if share.section in asked:
            part = 100 // len(asked) + (100 % len(asked) if share.section == asked[0] else 0)
        yield replace(share, share=part)


def _closure(direct: Mapping[str, frozenset[str]], section: str) -> frozenset[str]:
    """What a section rests on, and what that rests on in turn; without itself."""
    found: set[str] = set()
    ahead = [section]
    while ahead:
        new = direct[ahead.pop()] - found
        found |= new
        ahead += new
    return frozenset(found - {section})
