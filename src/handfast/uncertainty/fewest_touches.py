"""As few readings as make a mate certain enough, chosen together out of many."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from handfast.model.mate import Mate
from handfast.model.touch import Touch
from handfast.spatial.se3 import Array
from handfast.uncertainty.exchange import Cost, exchange
from handfast.uncertainty.judge import judge
from handfast.uncertainty.outlook import Outlook
from handfast.uncertainty.requirement import Requirement
from handfast.uncertainty.touch_candidates import Held

# What a further touch has to add to the chance, where the target is out of reach: it takes some four seconds.
WORTH = 0.002
# Above the target by this much, so that the next plan, a little different, still meets it.
_SPARE = 0.0005


@dataclass(frozen=True, slots=True)
class Choice:
    """touches: to be added; held: how the part is held, where that was asked; low: the sure end of the chance
    with them; reason: why there are no more, "" if the target is reached.
    """

    touches: tuple[Touch, ...]
    held: Held | None
    low: float
    reason: str


def fewest(seen: Outlook, candidates: tuple[Touch, ...], mate: Mate, made: int, target: float) -> Choice:
    """The fewest of the candidates with which the sure end of the chance reaches `target`; else those
    that are worth their time. made: touches that the mate already has.
    """
    room = mate.most_touches - made
    now = judge(seen.after(seen.made)).band.low
    best: tuple[int, ...] = ()
    if now >= target:
        return Choice((), None, now, "")
    rng = np.random.default_rng(int.from_bytes(hashlib.sha256(mate.name.encode()).digest()[:8], "big"))
    joint, cost = seen.joint(), _cost(seen)
    for count in range(1, min(room, len(candidates)) + 1):
        chosen, _ = exchange(joint, cost, len(seen.made) + count, rng, seen.made)
        low = judge(seen.after(chosen)).band.low
        if low >= now + WORTH * (count - len(best)) or low >= target + _SPARE:
            now, best = low, chosen[len(seen.made) :]
        if now >= target + _SPARE:
            break
    touches = tuple(candidates[i - seen.first] for i in best)
    return Choice(touches, None, now, "" if now >= target else _why(room, len(best), mate))


def _why(room: int, added: int, mate: Mate) -> str:
    if added >= room:
        return f"no more than {mate.most_touches} touches are allowed"
    return "no further touch adds enough"


def _cost(seen: Outlook) -> Cost:
    """Chance of failing, requirement by requirement, for covariances of b and e; an upper bound that is
    exact for a round spread: P(|x| > r) <= exp(-r^2/(2 s^2)), s the larger sigma.
    """
    asked = seen.asked
    index = [i for i, r in enumerate(asked.asked) if "low" in r.ends]
    shifts = [asked.shift[2 * i : 2 * i + 2] for i in index]
    radii = [_radius(asked.asked[i]) for i in index]
    base = seen.rows - asked.shift @ seen.raw
    P_bb = [base[2 * i : 2 * i + 2] @ base[2 * i : 2 * i + 2].T for i in index]
    k2 = len(seen.rows)

    def cost(P: Array) -> Array:
        total = np.zeros(len(P))
        for i, shift, radius, bb in zip(index, shifts, radii, P_bb, strict=True):
            cross = P[:, 2 * i : 2 * i + 2, k2:] @ shift.T
            rows = bb + cross + np.swapaxes(cross, 1, 2) + shift @ P[:, k2:, k2:] @ shift.T
            trace, half = rows[:, 0, 0] + rows[:, 1, 1], 0.5 * (rows[:, 0, 0] - rows[:, 1, 1])
            larger = 0.5 * trace + np.hypot(half, rows[:, 0, 1])
            # The last term keeps an order among sets that are all certain.
            total += np.exp(-0.5 * radius**2 / np.maximum(larger, 1e-30)) + 1e-6 * larger / radius**2
        return total

    return cost


def _radius(requirement: Requirement) -> float:
    return max(float(requirement.radii.min()), 1e-9)
