"""Every order and every choice of routes, in the order of their cost, until one can be carried out.

No clause is learned and nothing is concluded from one case for another: only beginnings that came to
nothing are not tried again. Of every step several ways to do it are carried on, the arms standing as they
come and, once more, idle arms sent home.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, permutations, product

from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.planning.leg import Leg
from handfast.planning.realise import realise
from handfast.planning.route import COST, Route
from handfast.planning.search import go_home
from handfast.planning.stream import stream
from handfast.planning.unit import Unit, routes_of, units_of
from handfast.planning.workspace import Workspace

WAYS = 2
"""Ways to do a step that are carried on, for each way its beginning was done and each stance of the arms."""
Step = tuple[str, Route]


def cheapest(ws: Workspace, seed: int) -> tuple[int, tuple[Step, ...]] | None:
    """The least cost [thousandths of a second, as the master counts it] at which a cell without tools can be
    planned, with the steps; None if no order and no routes can be carried out."""
    tree = _Tree(ws, seed)
    for cost, steps in sorted(_candidates(ws), key=lambda c: c[0]):
        if tree.legs(steps):
            return cost, steps
    return None


def _candidates(ws: Workspace) -> Iterator[tuple[int, tuple[Step, ...]]]:
    """Every order that the files permit with every choice of routes, and what it costs."""
    units = units_of(ws.project.product)
    put = any(h.kind == "set-down" for h in ws.project.cell.holders)
    routes = [routes_of(u, tuple(ws.hands), put) for u in units]
    for order in permutations(range(len(units))):
        if not _permitted(ws.project.product, [units[i].name for i in order]):
            continue
        turned = sum(order[i] > order[j] for i in range(len(order)) for j in range(i + 1, len(order)))
        for choice in product(*(range(len(r)) for r in routes)):
            chosen = {units[i].name: routes[i][c] for i, c in enumerate(choice)}
            cost = sum(1000 * COST[r.kind] for r in chosen.values()) + 10 * turned + sum(choice)
            steps = tuple((units[i].name, chosen[units[i].name]) for i in order)
            if _hands_free(ws.project.product, steps):
                yield cost, steps


def _permitted(product: Product, order: list[str]) -> bool:
    """Whether an order of mates keeps to what the files say."""
    if product.order_given and order != [m.name for m in product.mates]:
        return False
    rank = {name: i for i, name in enumerate(order)}
    return all(rank[a] < rank[m.name] for m in product.mates for a in _before(product, m))


def _before(product: Product, mate: Mate) -> set[str]:
    """Mates that come before one: those of the parts it goes to, those it needs, those it retains."""
    parts = {mate.into, *(p.fixed_part for p in mate.pairs)}
    own = {m.name for m in product.mates if m.part in parts or m.held_until == mate.name}
    return own | set(mate.needs)


def _hands_free(product: Product, steps: tuple[Step, ...]) -> bool:
    """Whether no step uses a hand that still holds a part."""
    busy: dict[str, str] = {}
    for name, route in steps:
        if set(route.hands) & set(busy):
            return False
        busy = {hand: until for hand, until in busy.items() if until != name}
        until = product.mate(name).held_until
        if until is not None:
            busy[route.last] = until
    return True


class _Tree:
    """What every beginning leads to."""

    def __init__(self, ws: Workspace, seed: int) -> None:
        self.ws, self.seed = ws, seed
        self.units: dict[str, Unit] = {u.name: u for u in units_of(ws.project.product)}
        self.known: dict[tuple[Step, ...], list[Leg]] = {(): [Leg(ws.start())]}

    def legs(self, steps: tuple[Step, ...]) -> list[Leg]:
        """Ways to do these steps one after another; [] if there is none."""
        if steps not in self.known:
            before = self.legs(steps[:-1])
            self.known[steps] = [end for leg in before for end in self._ways(leg, *steps[-1])]
        return self.known[steps]

    def _ways(self, leg: Leg, name: str, route: Route) -> list[Leg]:
        unit, found = self.units[name], []
        idle = [h for h in self.ws.hands if leg.state.held_by(h) is None]
        cleared = go_home(self.ws, leg, idle, name, stream(self.seed, name))
        for start in (leg, cleared) if cleared is not leg else (leg,):
            ends = (r for r in realise(self.ws, start, unit, route, False, self.seed) if isinstance(r, Leg))
            found += list(islice(ends, WAYS))
        return found
