"""Sub-assemblies as the drawing has them: which of them can be built apart."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.mates.from_cad.contacts import Contact
from handfast.mates.from_cad.placed import Placed


@dataclass(frozen=True, slots=True)
class DrawnGroup:
    """path: names of the assemblies around its parts, its own last; members: indices of its parts, those of
    groups in it too; base: the part that the others are put on."""

    path: tuple[str, ...]
    members: frozenset[int]
    base: int

    @property
    def name(self) -> str:
        """As it is used in the drawing."""
        return self.path[-1]


def drawn_groups(
    parts: tuple[Placed, ...], found: tuple[Contact, ...], base: int
) -> tuple[tuple[DrawnGroup, ...], tuple[str, ...]]:
    """Groups of two parts or more that hang together and do not hold the base of the product, outer ones
    first; and words about those that are none. The base of a group is its largest part."""
    groups: list[DrawnGroup] = []
    notes = []
    for path in dict.fromkeys(p.path[: k + 1] for p in parts for k in range(len(p.path))):
        members = frozenset(i for i, p in enumerate(parts) if p.path[: len(path)] == path)
        if len(members) < 2 or base in members or any(g.members == members for g in groups):
            continue
        largest = max(members, key=lambda i: (round(parts[i].graph.volume, 12), -i))
        if joined_to(largest, found, set(members)) != members:
            notes.append(_not_one(path[-1], "its parts do not all touch"))
            continue
        outside = [c for c in found if largest in (c.a, c.b) and c.other(largest) not in members]
        if all(c.kind == "face" for c in outside):
            notes.append(_not_one(path[-1], f"nothing says where {parts[largest].name} goes"))
            continue
        groups.append(DrawnGroup(path, members, largest))
    return tuple(groups), tuple(notes)


def _not_one(name: str, why: str) -> str:
    return f"{name} is drawn as a sub-assembly, but {why}: its parts go in one by one"


def joined_to(first: int, found: tuple[Contact, ...], among: set[int]) -> set[int]:
    """Parts that hang together with one of them, by contacts among them."""
    seen, front = {first}, [first]
    while front:
        at = front.pop()
        for c in found:
            if at in (c.a, c.b) and c.other(at) in among and c.other(at) not in seen:
                seen.add(c.other(at))
                front.append(c.other(at))
    return seen
