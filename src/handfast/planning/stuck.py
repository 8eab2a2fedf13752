"""What a search has learned, and why there is no sequence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from handfast.model.no_plan import NoPlan
from handfast.planning import caps
from handfast.planning.clause import Clause
from handfast.planning.failure import Failure, distinct, tally
from handfast.planning.leg import Leg
from handfast.planning.master import propose
from handfast.planning.route import Route
from handfast.planning.unit import Unit, retained_by
from handfast.planning.workspace import Workspace

Step = tuple[str, Route]


@dataclass
class Tried:
    """What the search remembers: where it starts, legs by the steps that led to them, other ways to do a
    step, the grasps that no more of these are wanted by, clauses, for each route of a unit the failures of
    its last attempt, and why it never works at all, once that was asked (empty if it might)."""

    start: Leg
    legs: dict[tuple[Step, ...], Leg] = field(default_factory=dict)
    others: dict[tuple[Step, ...], Iterator[Leg | Failure]] = field(default_factory=dict)
    regrasps: dict[tuple[Step, ...], list[object]] = field(default_factory=dict)
    clauses: list[Clause] = field(default_factory=list)
    failures: dict[Step, list[Failure]] = field(default_factory=dict)
    spent: dict[tuple[Step, ...], set[object]] = field(default_factory=dict)
    never: dict[Step, tuple[Failure, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, slots=True)
class Stuck:
    """No sequence: the reason as it is reported, the unit that is to blame, its failures, and what was
    learned on the way."""

    no: NoPlan
    unit: Unit
    failures: tuple[Failure, ...]
    tried: Tried


def no_sequence(
    ws: Workspace,
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    tried: Tried,
    ran_out: bool = False,
) -> Stuck:
    """The unit that cannot be done at all, or the order that contradicts itself."""
    never = {(c.unit, c.route) for c in tried.clauses if not c.present and not c.absent}
    proven = {(c.unit, c.route) for c in tried.clauses if not c.present and not c.absent and c.proven}
    hopeless = [next((u for u in units if all((u.name, r) in told for r in routes[u.name])), None)
                for told in (proven, never)]  # fmt: skip
    certain = hopeless[0] is not None or (not ran_out and all(c.proven for c in tried.clauses))
    unit = hopeless[0] or hopeless[1]
    conflicts: list[Failure] = []
    if unit is None and not ran_out:
        unit, conflicts = _no_hand_left(ws, units, routes, tried)
    if unit is None:
        blamed = tried.clauses[-1].unit if tried.clauses else units[0].name
        unit = next(u for u in units if u.name == blamed)
        conflicts = [
            Failure("order contradicts itself", _conflict(c)) for c in tried.clauses if c.present or c.absent
        ]
        conflicts = conflicts or [Failure("order contradicts itself", "mates that need each other first")]
    until = retained_by(unit, units)
    also = [until] if until is not None and conflicts else []
    failures = conflicts + [
        f for name in (unit.name, *also) for r in routes[name] for f in tried.failures.get((name, r), [])
    ]
    failures = distinct(failures)  # routes share what their hands failed at
    if ran_out and not certain:
        failures.append(caps.ran_out(f"{ws.caps.rounds} proposals of order and routes"))
    within = () if certain else _reached(tried, failures)
    no = NoPlan(ws.project.name, unit.mates[0].name, certain, tally(failures), within=within)
    return Stuck(no, unit, tuple(failures), tried)


def _no_hand_left(
    ws: Workspace, units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]], tried: Tried
) -> tuple[Unit | None, list[Failure]]:
    """The unit whose part has to be held while no hand is left to retain it, and why; None if no hold is to
    blame: there is an order that would do but for it."""
    given, clauses = ws.project.product.order_given, tuple(tried.clauses)
    if propose(units, routes, clauses, given, holds=frozenset()) is None:
        return None, []
    for unit in units:
        until = retained_by(unit, units)
        if until and propose(units, routes, clauses, given, holds=frozenset({unit.name})) is None:
            few = f"{len(ws.hands)} hands" if len(ws.hands) > 1 else "one hand"
            text = f"{unit.parts[0]} has to be held until {until} is done, which {few} cannot do meanwhile"
            return unit, [Failure("hand is taken", text)]
    return None, []


def _reached(tried: Tried, failures: list[Failure]) -> tuple[str, ...]:
    """The caps that ended the search: of the unit to blame, or else of any."""
    for some in (failures, [f for own in tried.failures.values() for f in own]):
        texts = {f.what for f in some if f.cause == "not found within the cap"}
        if texts:
            return tuple(sorted(texts))
    return ("other grasps of what a hand holds meanwhile",)


def _conflict(clause: Clause) -> str:
    text = f"{clause.unit} ({clause.route})"
    if clause.present:
        text += f" does not go in once {', '.join(sorted(clause.present))} is done"
    if clause.absent:
        text += " and" if clause.present else " does not go in"
        text += f" before {', '.join(sorted(clause.absent))} is done"
    return text
