"""Many units put in order one after another, as the file has them where nothing learned speaks against it."""

from __future__ import annotations

from collections.abc import Iterable

from handfast.planning.clause import Clause
from handfast.planning.route import COST, Route
from handfast.planning.unit import Unit, all_needs

Steps = tuple[tuple[str, Route], ...]


def in_file_order(
    units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]], clauses: Iterable[Clause]
) -> Steps | None:
    """A sequence in which every unit takes a route of the least cost that it has at all; so no other costs
    less but for its order. None if none is met: a unit that has to wait is passed over, one that would leave
    another without such a route waits for it, and nothing is taken back."""
    rules: dict[str, dict[Route, list[Clause]]] = {}
    for c in clauses:
        rules.setdefault(c.unit, {}).setdefault(c.route, []).append(c)
    cheap: dict[str, list[Route]] = {}
    for u in units:
        own = rules.get(u.name, {})
        left = [r for r in routes[u.name] if all(c.present or c.absent for c in own.get(r, ()))]
        if not left:
            return None
        least = min(COST[r.kind] for r in left)
        cheap[u.name] = [r for r in left if COST[r.kind] == least]
    before, done, steps = all_needs(units), set[str](), list[tuple[str, Route]]()
    waiting = [u.name for u in units]
    while waiting:
        for name in waiting:
            route = next((r for r in cheap[name] if _open(rules, name, r, done)), None)
            if route is not None and before[name] <= done and _leaves_all(rules, cheap, waiting, name, done):
                break
        else:
            return None
        waiting.remove(name)
        done.add(name)
        steps.append((name, route))
    return tuple(steps)


def _open(rules: dict[str, dict[Route, list[Clause]]], name: str, route: Route, done: set[str]) -> bool:
    """Whether a route is forbidden by nothing now."""
    return all(not c.present <= done or c.absent & done for c in rules.get(name, {}).get(route, ()))


def _leaves_all(
    rules: dict[str, dict[Route, list[Clause]]],
    cheap: dict[str, list[Route]],
    waiting: list[str],
    name: str,
    done: set[str],
) -> bool:
    """Whether every other unit that waits keeps a route that is not lost for good once `name` is done."""
    then = done | {name}
    return all(
        any(all(c.absent or not c.present <= then for c in own.get(r, ())) for r in cheap[other])
        for other in waiting
        if other != name and (own := rules.get(other))
    )
