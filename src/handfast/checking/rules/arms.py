"""Arms: a URDF that loads, a chain that is found, a home within the limits."""

from __future__ import annotations

import math
from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.kinematics.chain import ArmError, load_chain
from handfast.model.arm import Arm
from handfast.model.finding import Finding


def chains(case: Case) -> Iterator[Finding]:
    """Arms that cannot be loaded, and homes that they cannot reach."""
    for arm in case.project.cell.arms:
        path = ("cell", "arms", arm.name)
        try:
            chain = load_chain(arm, case.project.folder)
        except (ArmError, ValueError) as error:  # a number in the URDF that is none is a plain ValueError
            key = _key(str(error))
            text = str(error).replace(f"{case.project.folder}/", "")
            yield case.finding("arm-unloadable", (*path, key), "an arm that can be loaded", text)
            continue
        for i, (q, low, high) in enumerate(zip(arm.home, chain.lower, chain.upper, strict=True)):
            if not low <= q <= high:
                expected = f"joint {chain.joints[i]!r} between {_deg(low)} and {_deg(high)}"
                yield case.finding("home-outside-limits", (*path, "home", str(i)), expected, _deg(q))
    yield from _grippers(case, case.project.cell.arms)


def _key(message: str) -> str:
    return next((key for key in ("home", "max_acceleration") if f": {key} needs" in message), "urdf")


def _grippers(case: Case, arms: tuple[Arm, ...]) -> Iterator[Finding]:
    for arm in arms:
        carried = [g.name for g in case.project.cell.grippers if g.arm == arm.name]
        if len(carried) > 1:
            second = ("cell", "grippers", carried[1], "arm")
            found = f"{len(carried)} on {arm.name!r}: {', '.join(carried)}"
            yield case.finding("one-gripper", second, "one gripper on an arm", found)
        if not carried and not any(p[:2] == ("cell", "grippers") for p in case.broken):
            path = ("cell", "arms", arm.name)
            yield case.finding(
                "one-gripper", path, "a gripper on this arm", "none", f"add one with `arm: {arm.name}`"
            )


def _deg(angle: float) -> str:
    return f"{math.degrees(angle):.4g} deg"


RULES = (
    Rule(
        "arm-unloadable",
        "The URDF is read, and joints lead from `root` to `tip`; home and max_acceleration have one "
        "value for each moving joint.",
        chains,
    ),
    Rule("home-outside-limits", "Home lies within the joint limits of the URDF."),
    Rule("one-gripper", "Every arm carries one gripper: the hand that its name stands for."),
)
