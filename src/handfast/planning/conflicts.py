"""Where many units keep each other out: more that a failure tells, and what of it another project shares."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from handfast.planning.clause import Clause
from handfast.planning.explain import (
    can_do,
    held_in_hand,
    idle_home,
    is_certain,
    joined,
    least_causes,
    left_out,
    needed_for,
    needed_there,
)
from handfast.planning.leg import Leg
from handfast.planning.stand import is_standing
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace


def more_causes(
    ws: Workspace, leg: Leg, unit: Unit, clause: Clause, done: frozenset[str], units: tuple[Unit, ...]
) -> Iterator[Clause]:
    """What else rules out a route where a clause was confirmed to: it fails as well without one of the units
    that the clause names. Proven, each; of a part that a hand holds none."""
    if not clause.proven or held_in_hand(unit) or not is_standing(leg.state, unit.mates[0]):
        return
    dry, there = replace(ws, dry=True), {u.name: needed_there(u, units) for u in units}
    leg, every = idle_home(dry, leg), frozenset(there) - there[unit.name] - {unit.name}
    found, route = [clause.present | clause.absent], clause.route
    for name in sorted(found[0]):
        fewer = every - {name} - {other for other, needed in there.items() if name in needed}
        if any(matter <= fewer for matter in found):
            continue
        without = left_out(leg, every - fewer, units)
        works, failures = can_do(dry, without, unit, route)
        if not works:
            matter, last = least_causes(dry, without, unit, route, units, fewer, failures)
            found.append(matter)
            if is_certain(last):
                yield Clause(unit.name, route, matter & done, True, matter - done)


def holds_in(ws: Workspace, clause: Clause, units: tuple[Unit, ...]) -> bool:
    """Whether a proven clause is confirmed in the workspace of another project of the same units."""
    unit = next(u for u in units if u.name == clause.unit)
    matter = clause.present | clause.absent | needed_there(unit, units)
    done = needed_for(unit, units).union(clause.present)
    others = frozenset(u.name for u in units) - matter - {unit.name}
    leg = left_out(Leg(joined(ws, done, units)), others, units)
    if held_in_hand(unit) or not is_standing(leg.state, unit.mates[0]):
        return False
    works, failures = can_do(replace(ws, dry=True), leg, unit, clause.route)
    return not works and is_certain(failures)
