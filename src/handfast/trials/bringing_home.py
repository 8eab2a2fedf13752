"""Parts that a hand brings home in a simulated cell: in contact, pressed in, or placed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from handfast.execution.cell import CellError, Felt, InsertResult
from handfast.model.mate import Mate
from handfast.model.motion import Motion
from handfast.model.strategy import Strategy
from handfast.model.trial import MateTry
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.insertion import Inserted, Insertion
from handfast.trials.strategies import insert_by
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_insertion import HandWay
from handfast.trials.true_jaws import holds_at_most
from handfast.trials.true_press import pressed_in, pressed_pairs
from handfast.trials.true_task import burred, tight, true_task

BENDS = ("ring", "belt")
NOT_SHOWN = "bends or stretches: placed, not tried, counts as not shown"
Solver = Callable[[Insertion], Inserted]
Solved = list[tuple[str, Insertion, Inserted]]
TOLD = 40  # forces felt during one insertion


class BringingHome:
    """All parts of one build. tries and solved: of the cell, added to here."""

    def __init__(self, truth: TrueCell, solver: Solver, tries: list[MateTry], solved: Solved) -> None:
        self._truth, self._solver, self._tries, self._solved = truth, solver, tries, solved

    def insert(self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None) -> InsertResult:
        """As the cell's `insert`; the arm comes to stand at the end of the motion."""
        mate = self._mate_of(arm)
        self._truth.stand(arm, np.array(motion.q[-1]))
        way = HandWay(self._truth.T_world_grip(arm, np.array(motion.q[0])), self._truth.T_world_grip(arm))
        travel = float(np.linalg.norm(way.T_world_grip_home[:3, 3] - way.T_world_grip_start[:3, 3]))
        if mate.kind in BENDS:
            return self._placed(mate, way, travel)
        task = true_task(self._truth, mate, way, force_limit)
        pressed = pressed_pairs(task) if mate.kind == "press" else ()
        cause = burred(self._truth, mate) or ("" if pressed else tight(task))
        if cause:
            self._tries.append(MateTry(mate.name, "failed", cause, 0.0, 0.0, 0.0, 0.0))
            return InsertResult(False, cause, 0.0, 0.0)
        if pressed:
            result = pressed_in(self._truth, mate, task, pressed, partial(self._solve, mate.name))
        else:
            result = insert_by(strategy, task, partial(self._solve, mate.name))
        slipped = self._slipped(arm, result)
        if slipped is not None:
            return self._slid(arm, mate, task, result, *slipped)
        self._note(mate, result)
        self._settle(mate, task, result)
        if result.outcome != "ok":
            self._truth.hands[arm].stop += "/stopped"
        felt = _felt(result, motion.duration / max(travel, 1e-9))
        return InsertResult(result.outcome == "ok", result.cause, result.travel, result.peak_force, felt)

    # --- what the jaws hold ---

    def _slipped(self, arm: str, result: Inserted) -> tuple[float, float] | None:
        """At which travel [m], and at how much force [N], the part slips in the jaws; None if they hold."""
        most = holds_at_most(self._truth, arm)
        felt = np.asarray(result.felt)
        forces = np.hypot(felt[:, 1], felt[:, 2]) if len(felt) else np.array([result.peak_force])
        if float(forces.max()) <= most:
            return None
        at = float(felt[int(np.argmax(forces > most)), 0]) if len(felt) else result.travel
        return at, most

    def _slid(
        self, arm: str, mate: Mate, task: Insertion, result: Inserted, at: float, most: float
    ) -> InsertResult:
        """The part stays where it was when it slipped, the hand goes to the end of its way: it feels no more
        than what the jaws hold, and cannot tell."""
        cause = f"{mate.part} slipped in the jaws: they hold {most:.1f} N"
        self._tries.append(MateTry(mate.name, "failed", cause, result.offset, result.tilt, most, 0.0))
        back = np.array(result.T_held)
        back[:3, 3] -= max(min(result.travel, task.length) - at, 0.0) * task.way
        T_world_part = self._T_world_part(mate, back)
        T_world_grip = self._truth.T_world_grip(arm)
        self._truth.attach(mate.part, f"hand.{arm}", se3.inverse(T_world_grip) @ T_world_part)
        return InsertResult(True, "", task.length, most)

    # --- what comes of it ---

    def _mate_of(self, arm: str) -> Mate:
        holds = self._truth.hands[arm].holds
        for mate in self._truth.project.product.mates:
            if mate.part == holds and not self._truth.items[mate.part].parent.startswith("part."):
                return mate
        raise CellError(
            f"the {arm} hand holds {holds or 'nothing'}, which goes into nothing; put the right part in it"
        )

    def _placed(self, mate: Mate, way: HandWay, travel: float) -> InsertResult:
        """A ring or a belt: it goes where the hand puts it, and nothing is said about whether it fits."""
        self._join(mate, self._truth.T_world(mate.part, T_world_grip=way.T_world_grip_home))
        self._tries.append(MateTry(mate.name, "not tried", NOT_SHOWN, 0.0, 0.0, 0.0, 0.0))
        return InsertResult(True, "", travel, 0.0)

    def _solve(self, mate: str, task: Insertion) -> Inserted:
        result = self._solver(task)
        # Of a way in with several tries the last one, which decides.
        self._solved[:] = [s for s in self._solved if s[0] != mate] + [(mate, task, result)]
        return result

    def _note(self, mate: Mate, result: Inserted) -> None:
        outcome = result.outcome if result.valid else "invalid"
        cause = result.cause if result.valid else f"contact too soft: {result.penetration:.2f} of the play"
        self._tries.append(MateTry(mate.name, outcome, cause, result.offset, result.tilt, result.peak_force,
                                   result.penetration, result.steps, result.unsettled))  # fmt: skip

    def _settle(self, mate: Mate, task: Insertion, result: Inserted) -> None:
        """Loose parts stay where they were pushed to; the part, if it is in, joins the part it goes into."""
        pair, truth = mate.pairs[0], self._truth
        T_world_fixed = truth.T_world_feature(pair.fixed_part, pair.fixed)
        for loose, T_now in zip(task.loose, result.T_loose, strict=True):
            moved = T_world_fixed @ T_now @ se3.inverse(loose.T_world_body) @ se3.inverse(T_world_fixed)
            there = truth.items[loose.part].parent
            parent = truth.T_world(there.partition(".")[2])
            truth.attach(loose.part, there, se3.inverse(parent) @ moved @ truth.T_world(loose.part))
        if result.outcome == "ok":
            self._join(mate, self._T_world_part(mate, result.T_held))

    def _T_world_part(self, mate: Mate, T_held: Array) -> Array:
        """Where the part is, by where its first pair's moving feature is in the fixed one's frame (4, 4)."""
        pair, truth = mate.pairs[0], self._truth
        feature = truth.project.product.part(mate.part).feature(pair.moving)
        T_world_moving = truth.T_world_feature(pair.fixed_part, pair.fixed) @ T_held
        return np.asarray(T_world_moving @ se3.inverse(truth.T_part_feature(mate.part, feature)))

    def _join(self, mate: Mate, T_world_part: Array) -> None:
        T_into_part = se3.inverse(self._truth.T_world(mate.into)) @ T_world_part
        self._truth.attach(mate.part, f"part.{mate.into}", T_into_part)


def _felt(result: Inserted, per_metre: float) -> tuple[Felt, ...]:
    """At most TOLD of what was felt, each the hardest of its stretch. per_metre: time of travel [s/m]."""
    felt = np.asarray(result.felt)
    parts = np.array_split(felt, min(TOLD, len(felt))) if len(felt) else []
    rows = [part[int(np.argmax(np.abs(part[:, 1])))] for part in parts]
    return tuple(Felt(float(r[0]) * per_metre, *(float(v) for v in r[1:])) for r in rows)
