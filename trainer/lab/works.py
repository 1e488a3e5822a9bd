"""What of a paper's network works, by sort of trial, and what of it has to work for a pass. No part of the marks."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal

from trainer.listing import listed

__all__ = ["IN_NETWORK", "NOT_ENOUGH", "PASS_MARK", "Count", "MustWork", "ToPass", "Works"]

IN_NETWORK, NOT_ENOUGH, PASS_MARK = "In your network", "Not enough to pass", "Pass mark"
"""What stands before the line, the sentence and the mark, wherever they are told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many trials of a sort went as they should, of those that the key's network shows."""

    shown: int
    of: int
    """1 or more."""

    def needed(self, per_cent: int) -> int:
        """The smallest number that is this share, 0 to 100.

        >>> Count(shown=0, of=24).needed(90)
        22
        """
        return -(-self.of * per_cent // 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """What was seen in the network that a paper makes; of what is not asked the key's part. None: a lab has no such trial."""

    leases: Count | None
    """Stations that got a lease and can renew it, of those that ask for one."""
    pings: Count | None
    """Pings answered, between stations and to needed addresses."""
    attacks: Count | None
    """Attacks that the paper's own protection stops: without it they get through."""

    @property
    def line(self) -> str:
        """Such as: leases 4 of 6, pings 60 of 72, attacks stopped 20 of 24."""
        return ", ".join(f"{_CALLED[sort]} {count.shown} of {count.of}" for sort, count in self.counts())

    def counts(self) -> Iterator[tuple[str, Count]]:
        """The counts by sort; without those that the lab does not have."""
        for each in fields(self):
            count: Count | None = getattr(self, each.name)
            if count is not None:
                yield each.name, count

    def as_record(self) -> dict[str, list[int] | None]:
        """As other programs read it: {"leases": [4, 6], "pings": [60, 72], "attacks": null}."""
        there = {sort: [count.shown, count.of] for sort, count in self.counts()}
        return {each.name: there.get(each.name) for each in fields(self)}


@dataclass(frozen=True, slots=True, kw_only=True)
class MustWork:
    """What share of each sort has to work for a pass, in per cent, 0 to 100; None: that sort need not."""

    leases: int | None = None
    pings: int | None = None
    attacks: int | None = None

    def shares(self) -> Mapping[str, int]:
        """By sort; without those that need not work."""
        shares = {each.name: getattr(self, each.name) for each in fields(self)}
        return {sort: share for sort, share in shares.items() if share is not None}

    @property
    def words(self) -> str:
        """As it is written in the exercise: leases 100, pings 80, attacks 90."""
        return ", ".join(f"{sort} {share}" for sort, share in self.shares().items())

    def short(self, works: Works) -> tuple[tuple[str, Count, int], ...]:
        """The sorts of which too little works: sort, what was seen, how many are needed."""
        shares = self.shares()
        return tuple(
            (sort, count, needed)
            for sort, count in works.counts()
            if sort in shares and count.shown < (needed := count.needed(shares[sort]))
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPass:
    """What a pass takes."""

    pass_mark: int
    """Per cent of the marks, 0 to 100."""
    must_work: MustWork | None
    """What has to work beside the marks; None where marks alone are enough."""

    def told(self, marks: Decimal, out_of: Decimal) -> str:
        """The pass mark, and whether the marks reach it, for the trainee; "" where every paper reaches it.

        >>> ToPass(pass_mark=60, must_work=None).told(Decimal("59.999"), Decimal(100))
        '60 %, not reached'
        """
        if not self.pass_mark:
            return ""
        return f"{self.pass_mark} %, {'reached' if self._is_reached(marks, out_of) else 'not reached'}"

    def _is_reached(self, marks: Decimal, out_of: Decimal) -> bool:
        return marks * 100 >= self.pass_mark * out_of

    def missing(self, works: Works | None, marks: Decimal, out_of: Decimal) -> str:
        """A sentence that says what the network lacks for a pass; "" where it lacks nothing.

        works: None where it was not tried; marks, out_of: what the paper has earned, and could.
        """
        if self.must_work is None:
            return ""
        if works is None:
            return "What works was not tried yet: grade again."
        short = self.must_work.short(works)
        if not short:
            return ""
        seen = " and ".join(_SEEN[sort].format(shown=count.shown, of=count.of) for sort, count, _ in short)
        needed = listed([str(number) for *_, number in short])
        begin = (
            f"{self.pass_mark} reached, but"
            if self._is_reached(marks, out_of)
            else f"{self.pass_mark} not reached, and"
        )
        return f"{begin} {seen}; {needed} {'is' if needed == '1' else 'are'} needed."


_CALLED = {"leases": "leases", "pings": "pings", "attacks": "attacks stopped"}
_SEEN = {
    "leases": "{shown} of {of} leases are granted and renewed",
    "pings": "{shown} of {of} pings are answered",
    "attacks": "{shown} of {of} attacks are stopped",
}
