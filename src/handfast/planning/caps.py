"""How far a search goes before it gives something up. What is cut off is told: it proves nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from handfast.planning.failure import Failure
from handfast.planning.leg import Leg

T = TypeVar("T")
_MORE = 4  # how many times as far the second search goes


@dataclass(frozen=True, slots=True)
class Caps:
    """grasps: of one route that are carried through to motions; givers: grasps by which a part is brought to
    a handover or set-down; pairs: of grasps for a handover, for each of those; branches: of the arm by which
    a part is picked up; meetings: of two hands that are carried on with, poses: that are looked at for them;
    spots: ways to set a part down, again: grasps that are tried at each; regrasps: of a part that is held
    while the next mate is done; tree: steps of a path search, a quick try, then a long one; rounds: of the
    master."""

    grasps: int = 6
    givers: int = 8
    pairs: int = 6
    branches: int = 2
    meetings: int = 3
    poses: int = 12
    spots: int = 24
    again: int = 1
    regrasps: int = 12
    tree: tuple[int, int] = (300, 3000)
    rounds: int = 200

    def smaller(self) -> Caps:
        """The caps of a sequence that is tried for a shorter cycle only: where it is hard to find, the next
        one is looked at."""
        return replace(self, grasps=3, givers=2, pairs=3, spots=6, regrasps=4)

    def larger(self) -> Caps:
        """The caps of a second search, where the first one ran out."""
        return Caps(
            grasps=self.grasps * _MORE,
            givers=self.givers * _MORE,
            pairs=self.pairs * _MORE,
            branches=self.branches * _MORE,
            meetings=self.meetings * _MORE,
            poses=self.poses * _MORE,
            spots=self.spots * _MORE,
            again=self.again * _MORE,
            regrasps=self.regrasps * _MORE,
            tree=(self.tree[0], self.tree[1] * _MORE),
            rounds=self.rounds,
        )


def within(
    count: int, items: Iterable[T], what: str, ways: Callable[[T], Iterator[Leg | Failure]]
) -> Iterator[Leg | Failure]:
    """The ways of the first `count` items; a failure says so if there are more. what: they are, in words."""
    for k, item in enumerate(items):
        if k == count:
            yield ran_out(f"{count} {what}")
            return
        yield from ways(item)


def at_most(count: int, results: Iterator[Leg | Failure], what: str) -> Iterator[Leg | Failure]:
    """Results up to so many legs; a failure says so if there are more. what: they are, in words."""
    for result in results:
        if isinstance(result, Leg):
            if count == 0:
                yield ran_out(what)
                return
            count -= 1
        yield result


def first_leg(results: Iterator[Leg | Failure]) -> Iterator[Leg | Failure]:
    """Results up to the first leg, where all others would serve as well or as badly."""
    for result in results:
        yield result
        if isinstance(result, Leg):
            return


def ran_out(what: str) -> Failure:
    """The failure that says which cap was reached."""
    return Failure("not found within the cap", what, of=("cap", what))
