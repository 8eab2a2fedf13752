"""From a checked project to a two-hand chart, or a reason why not."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator

import numpy as np

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.mate import Mate
from handfast.model.no_plan import NoPlan
from handfast.planning.connect import connect
from handfast.planning.failure import Failure, tally
from handfast.planning.leg import Leg, element
from handfast.planning.lower_bound import lower_bound
from handfast.planning.place import let_go
from handfast.planning.routes import carry, fasten, grasp_in
from handfast.planning.schedule import one_at_a_time
from handfast.planning.workspace import Workspace, make_workspace

Progress = Callable[[str, int, int], None]


def plan(checked: CheckedProject, *, seed: int = 0, progress: Progress | None = None) -> Chart | NoPlan:
    """Plan every mate in the given order, one hand moving at a time.

    seed: of every random draw; equal projects and seeds give equal charts. progress(mate, done, of) is called before each.
    """
    ws = make_workspace(checked)
    start = ws.start()
    leg = Leg(start)
    mates = ws.project.product.mates
    for done, mate in enumerate(mates):
        if progress is not None:
            progress(mate.name, done, len(mates))
        failures: list[Failure] = []
        found = _first(_mate(ws, leg, mates, done, seed), failures)
        if found is None:
            certain = not any(f.cause == "not found within the cap" for f in failures)
            return NoPlan(ws.project.name, mate.name, certain, tally(failures))
        leg = found
    leg = _home(ws, leg, list(ws.hands), "", seed)
    hands = tuple(sorted(ws.hands, key=lambda h: float(ws.hands[h].chain.base[0, 3])))
    elements = one_at_a_time(leg.elements, hands)
    return Chart(
        project=ws.project.name,
        hands=hands,
        start=start.scene,
        elements=elements,
        mates=tuple(m.name for m in mates),
        makespan_s=max(e.start_s + e.duration_s for e in elements),
        lower_bound_s=lower_bound(ws, elements, mates),
    )


def _first(results: Iterator[Leg | Failure], failures: list[Failure]) -> Leg | None:
    for result in results:
        if isinstance(result, Leg):
            return result
        failures.append(result)
    return None


def _mate(ws: Workspace, leg: Leg, mates: tuple[Mate, ...], index: int, seed: int) -> Iterator[Leg | Failure]:
    """Ways to do one mate from where things stand; then the same with the idle hands sent home first."""
    mate = mates[index]
    own_seed = stream(seed, mate.name)
    later = [m.tool for m in mates[index + 1 :] if m.tool]
    bases = [leg]
    cleared = _home(ws, leg, [h for h in ws.hands if leg.state.held_by(h) is None], mate.name, own_seed)
    if cleared is not leg:
        bases.append(cleared)
    for base in bases:
        if mate.kind == "screw":
            found = fasten(ws, base, mate, bool(later and later[0] == mate.tool), own_seed)
        else:
            found = carry(ws, base, mate, own_seed)
        for result in found:
            if isinstance(result, Failure):
                yield result
            else:
                yield from _released(ws, result, mates, mate)


def _released(ws: Workspace, leg: Leg, mates: tuple[Mate, ...], mate: Mate) -> Iterator[Leg | Failure]:
    """Let go of parts that were held until this mate."""
    for earlier in mates:
        if earlier.held_until == mate.name:
            for hand in ws.hands:
                if leg.state.held_by(hand) == earlier.part:
                    results = let_go(ws, leg, hand, earlier, grasp_in(leg, hand))
                    ends = [r for r in results if isinstance(r, Leg)]
                    if not ends:
                        yield from results
                        return
                    leg = ends[0]
    yield leg


def _home(ws: Workspace, leg: Leg, hands: list[str], mate: str, seed: int) -> Leg:
    """Send hands home that can get there; the leg itself if none moves."""
    for hand in hands:
        home = ws.hands[hand].chain.home
        if np.abs(leg.state.q[hand] - home).max() > 1e-9 and not leg.pending:
            way = connect(ws, leg.state, hand, home, seed)
            if not isinstance(way, Failure):
                reach = element("reach", hand, "", "home", mate, (way,), opening=leg.state.widths[hand])
                leg = leg.then(leg.state.moved(hand, home), reach)
    return leg


def stream(seed: int, *keys: str) -> int:
    """A 63-bit seed derived from stable keys, so that editing one mate does not reshuffle the others."""
    text = "\0".join([str(seed), *keys])
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "little") >> 1
