"""Grasps: where the pads lie, what they close, what slips; against exact shapes and half-spaces, not the
code's words."""

from __future__ import annotations

from dataclasses import replace

import coal
import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.mates.grasps import grasps, grip_widths
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import FingerZone, Gripper
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
X, Y, Z = np.eye(3)
FLAT = FingerZone("tip", "flat", 0.0, 0.030)
ALONG = FingerZone("groove", "V", 0.0, 0.016, 0.003, 0.012)
ACROSS = FingerZone("notch", "V", 0.004, 0.012, 0.003, 0.012, "across")
GRIPPER = Gripper(
    "g", "left", Pose(), (), (0.018, 0.012, 0.070), (FLAT, ALONG, ACROSS), (0.0, 0.070), 90.0, 0.3
)


def turned(axis: Array, angle: float, at: tuple[float, float, float]) -> Pose:
    return Pose.from_matrix(se3.translation(*at) @ se3.rotation(axis, angle))


# A bar 8 mm thick and 40 mm long about its middle, tip down; a block 30 x 20 x 12 mm with its six faces.
BAR = (Feature("tip", "shaft", turned(X, np.pi, (0, 0, -0.020)), diameter=0.008, length=0.020),)
BLOCK = tuple(
    Feature(f"face {i}", "face", turned(axis, angle, at), size=size)
    for i, (axis, angle, at, size) in enumerate([
        (Y, np.pi / 2, (0.015, 0, 0), (0.012, 0.020)), (Y, -np.pi / 2, (-0.015, 0, 0), (0.012, 0.020)),
        (X, -np.pi / 2, (0, 0.010, 0), (0.030, 0.012)), (X, np.pi / 2, (0, -0.010, 0), (0.030, 0.012)),
        (X, 0.0, (0, 0, 0.006), (0.030, 0.020)), (X, np.pi, (0, 0, -0.006), (0.030, 0.020)),
    ])
)  # fmt: skip
SHAPES = {"bar": coal.Cylinder(0.004, 0.040), "block": coal.Box(0.030, 0.020, 0.012)}
FEATURES = {"bar": BAR, "block": BLOCK}


def found(item: str, gripper: Gripper = GRIPPER, mass: float = 0.016) -> tuple[Grasp, ...]:
    return grasps(gripper, item, FEATURES[item], mass, 0.15)


def distance(a: object, T_a: Array, b: object, T_b: Array) -> float:
    at = [coal.Transform3s(T[:3, :3], T[:3, 3]) for T in (T_a, T_b)]
    return float(coal.distance(a, at[0], b, at[1], coal.DistanceRequest(), coal.DistanceResult()))


def pad(gripper: Gripper, zone: FingerZone, side: int, width: float) -> tuple[object, Array]:
    """The slab of a finger that has the zone on its inner face."""
    x, thick, _ = gripper.finger_size
    box = coal.Box(x, thick, zone.end - zone.start)
    return box, se3.translation(0, side * (width + thick) / 2, -(zone.start + zone.end) / 2)


def zone_of(grasp: Grasp, gripper: Gripper = GRIPPER) -> FingerZone:
    return next(z for z in gripper.zones if z.name == grasp.zone)


@pytest.mark.parametrize("item", ["bar", "block"])
def test_both_pads_lie_on_the_item_within_their_zone(item: str) -> None:
    every = found(item)
    assert len(every) > 20
    for grasp in every:
        for side in (1, -1):
            box, T = pad(GRIPPER, zone_of(grasp), side, grasp.width)
            assert distance(box, T, SHAPES[item], grasp.T_grip_part.matrix) == pytest.approx(0.0, abs=1e-6)
            box, T = pad(GRIPPER, zone_of(grasp), side, grasp.width + 2e-4)
            assert distance(box, T, SHAPES[item], grasp.T_grip_part.matrix) == pytest.approx(1e-4, abs=1e-6)


@pytest.mark.parametrize("item", ["bar", "block"])
def test_the_palm_side_of_the_hand_stays_clear(item: str) -> None:
    """Behind the zone there is nothing of the item between the fingers, so the hand can come that way."""
    for grasp in found(item):
        if zone_of(grasp).kind == "flat":
            behind = coal.Box(0.1, grasp.width, 0.1)
            T = se3.translation(0, 0, -FLAT.end - 0.0001 - 0.05)
            assert distance(behind, T, SHAPES[item], grasp.T_grip_part.matrix) > 0


def planes(zone: FingerZone) -> Array:
    """Inward normals (k, 3) of the faces of both pads in the grip frame; V grooves have flanks at 45 deg."""
    if zone.kind == "flat":
        return np.array([Y, -Y])
    across = X if zone.groove == "along" else Z
    flanks = [(a * across + b * Y) / np.sqrt(2) for a in (1, -1) for b in (1, -1)]
    return np.array(flanks)


def cut_in(grasp: Grasp, on_item: Array, step: Array) -> float:
    """How far the pads, closed on the nominal item, cut into it once it is moved by exp(step) along and about
    the axes of the grip frame, through the point that the grasp names [m]."""
    normals = planes(zone_of(grasp))
    nominal = on_item @ grasp.T_grip_part.matrix[:3, :3].T + grasp.T_grip_part.matrix[:3, 3]
    held, middle = nominal[within(grasp, nominal)], np.array(grasp.about)
    T = se3.exp(step)
    moved = (nominal - middle) @ T[:3, :3].T + T[:3, 3] + middle
    moved = moved[within(grasp, moved)]
    return float(((held @ normals.T).min(axis=0) - (moved @ normals.T).min(axis=0)).max())


def within(grasp: Grasp, points: Array) -> NDArray[np.bool_]:
    """Points between the fingers: over their width and the zone's length, with a little less at the edges."""
    zone = zone_of(grasp)
    return np.asarray(
        (np.abs(points[:, 0]) < 0.009) & (points[:, 2] < -zone.start) & (points[:, 2] > -zone.end)
    )


def lever(grasp: Grasp, on_item: Array) -> float:
    """Half the length that lies between the pads along the fingers, 4 mm at most [m]."""
    nominal = on_item @ grasp.T_grip_part.matrix[:3, :3].T + grasp.T_grip_part.matrix[:3, 3]
    return min(0.004, float(np.ptp(nominal[within(grasp, nominal)][:, 2])) / 2)


def skin(item: str) -> Array:
    """Dense points on the item's surface, (k, 3)."""
    if item == "bar":
        turn, z = np.meshgrid(np.arange(720) * np.pi / 360, np.linspace(-0.02, 0.02, 81))
        flank = [0.004 * np.cos(turn), 0.004 * np.sin(turn), z]
        return np.column_stack([f.ravel() for f in flank])
    grid = np.stack(np.meshgrid(*[np.linspace(-0.5, 0.5, 41)] * 3), -1).reshape(-1, 3)
    return np.asarray(grid[np.abs(grid).max(axis=1) > 0.4999] * np.array([0.030, 0.020, 0.012]))


@pytest.mark.parametrize("item", ["bar", "block"])
def test_what_closing_sets_is_what_the_pads_resist(item: str) -> None:
    """A closed freedom pushes the item into a pad in proportion; a free one slides along them (second order
    at most)."""
    points, kinds, steps = skin(item), set(), np.diag([1e-4] * 3 + [1e-2] * 3)
    for grasp in found(item):
        kind = (grasp.zone, grasp.closed, round(grasp.slip_torque, 5))
        if kind in kinds:
            continue
        kinds.add(kind)
        for freedom, closed in enumerate(grasp.closed):
            deep = max(cut_in(grasp, points, sign * steps[freedom]) for sign in (1, -1))
            share = deep / (
                1e-4 if freedom < 3 else 1e-2 * lever(grasp, points)
            )  # of what the step does there
            assert (share > 0.5) if closed else (share < 0.1), (grasp.zone, grasp.features, freedom, share)
    assert len(kinds) >= (6 if item == "bar" else 3)


def zones_closing(item: str) -> dict[tuple[str, tuple[bool, ...]], float]:
    return {(g.zone, g.closed): g.slip_force for g in found(item)}


def test_slip_limits_by_hand() -> None:
    """Coulomb at two flat pads: 2 x 0.3 x 90 N = 54 N; at the four flanks of two V pads of 90 deg, each
    pressed with 90 N / (2 sin 45 deg) = 63.6 N: 4 x 0.3 x 63.6 N = 76.4 N."""
    for (zone, _), force in {**zones_closing("bar"), **zones_closing("block")}.items():
        assert force == pytest.approx(54.0 if zone == "tip" else 76.37, abs=0.01)


def test_slip_torque_by_hand() -> None:
    """An even line of pressure of length L turns when F L / 4 is exceeded: the mean arm of its halves."""
    flat = {round(g.slip_torque, 6) for g in found("block")}
    assert flat == {
        round(54 * held / 4, 6) for held in (0.011, 0.019, 0.029)
    }  # 1 mm of the edge is left free
    along = max((g for g in found("bar") if g.zone == "groove"), key=lambda g: g.slip_torque)
    assert along.slip_torque == pytest.approx(76.37 * 0.016 / 4, rel=1e-3)


def test_slippery_pads_or_parts_hold_less() -> None:
    for slippery in (replace(GRIPPER, friction=0.1), replace(GRIPPER, force=30.0)):
        forces = {g.zone: g.slip_force for g in grasps(slippery, "bar", BAR, 0.016, 0.15)}
        assert forces["tip"] == pytest.approx(18.0)  # 2 x 0.1 x 90 N, and 2 x 0.3 x 30 N
    assert max(g.slip_force for g in grasps(GRIPPER, "bar", BAR, 0.016, 0.05)) < 54.0


def test_too_heavy_for_friction_is_not_held() -> None:
    """Held with twice its weight to spare: 54 N of friction hold 2.75 kg."""
    assert {g.zone for g in grasps(GRIPPER, "bar", BAR, 2.74, 0.15)} == {"tip", "groove", "notch"}
    assert {g.zone for g in grasps(GRIPPER, "bar", BAR, 2.76, 0.15)} == {"groove", "notch"}
    assert not grasps(GRIPPER, "bar", BAR, 4.0, 0.15)


@pytest.mark.parametrize(
    ("opening", "widths"),
    [((0.0, 0.070), {0.012, 0.020, 0.030}), ((0.0, 0.025), {0.012, 0.020}), ((0.015, 0.025), {0.020}),
     ((0.0, 0.012), set()), ((0.031, 0.070), set())],
)  # fmt: skip
def test_only_what_the_jaws_can_span_is_gripped(opening: tuple[float, float], widths: set[float]) -> None:
    assert {round(g.width, 9) for g in found("block", replace(GRIPPER, opening=opening))} == widths
    assert [round(w, 9) for w in grip_widths(BLOCK)] == [0.012, 0.020, 0.030]


ALL = {"tip", "groove", "notch"}


@pytest.mark.parametrize(
    ("diameter", "zones"),
    [(0.0029, {"tip"}), (0.003, ALL), (0.012, ALL), (0.0121, {"tip"}), (0.0701, set())],
)
def test_grooves_take_their_diameters_only(diameter: float, zones: set[str]) -> None:
    bar = (replace(BAR[0], diameter=diameter),)
    assert {g.zone for g in grasps(GRIPPER, "bar", bar, 0.001, 0.15)} == zones
    assert grip_widths(bar) == [diameter]


def test_nothing_is_gripped_by_holes_threads_inside_or_where_it_must_not_be() -> None:
    hole = replace(BAR[0], kind="hole")
    tapped = replace(BAR[0], kind="thread", internal=True)
    spared = replace(BAR[0], grip=False)
    for feature in (hole, tapped, spared):
        assert grasps(GRIPPER, "bar", (feature,), 0.016, 0.15) == ()
        assert grip_widths((feature,)) == []
    outside = replace(BAR[0], kind="thread", internal=False)
    assert len(grasps(GRIPPER, "bar", (outside,), 0.016, 0.15)) == len(found("bar"))


@pytest.mark.parametrize("item", ["bar", "block"])
def test_an_item_turned_in_its_frame_is_held_alike(item: str) -> None:
    T = se3.exp(np.array([0.1, -0.2, 0.3, 0.4, 0.5, -0.6]))
    moved = tuple(replace(f, frame=Pose.from_matrix(T @ f.frame.matrix)) for f in FEATURES[item])
    for here, there in zip(found(item), grasps(GRIPPER, item, moved, 0.016, 0.15), strict=True):
        np.testing.assert_allclose(there.T_grip_part.matrix @ T, here.T_grip_part.matrix, atol=1e-12)
        assert there.closed == here.closed


def test_a_zone_away_from_the_fingertip_holds_where_it_is() -> None:
    """And a shaft too short to reach it is not held by it."""
    back = replace(FLAT, start=0.010)
    gripper = replace(GRIPPER, zones=(back,))
    for item, longest in (("bar", 0.018), ("block", 0.019)):
        every = found(item, gripper)
        assert every
        for grasp in every:
            for side in (1, -1):
                box, T = pad(gripper, back, side, grasp.width)
                assert distance(box, T, SHAPES[item], grasp.T_grip_part.matrix) == pytest.approx(0, abs=1e-6)
        # The pads begin 10 mm from the fingertips: a bar lies across them, a face 29 mm long on 19 mm of
        # them.
        assert max(g.slip_torque for g in every) == pytest.approx(54 * longest / 4)
    stub = (replace(BAR[0], length=0.012),)
    every = grasps(gripper, "bar", stub, 0.016, 0.15)
    assert not [
        g for g in every if abs(g.T_grip_part.matrix[2, 2]) > 0.9
    ]  # along the fingers: 1 mm on the pad
    assert [g for g in every if abs(g.T_grip_part.matrix[2, 2]) < 0.1]


def test_a_face_drawn_the_other_way_round_is_the_same_face() -> None:
    """Turning a face's frame by 90 deg swaps its edges; where the pads lie must not change."""

    def swapped(f: Feature) -> Feature:
        frame = Pose.from_matrix(f.frame.matrix @ se3.rotation(Z, np.pi / 2))
        return replace(f, frame=frame, size=(f.size or (0, 0))[::-1])

    other = tuple(swapped(f) if i % 2 else f for i, f in enumerate(BLOCK))
    here, there = found("block"), grasps(GRIPPER, "block", other, 0.016, 0.15)
    for a, b in zip(here, there, strict=True):
        np.testing.assert_allclose(a.T_grip_part.matrix, b.T_grip_part.matrix, atol=1e-12)


def test_faces_that_lie_aside_are_held_where_both_are() -> None:
    """Two ledges 20 mm long, one 5 mm ahead of the other: along 15 mm, less 1 mm of the edge, there are
    both."""
    faces = (
        Feature("a", "face", turned(X, np.pi / 2, (0.0025, -0.01, 0)), size=(0.020, 0.012)),
        Feature("b", "face", turned(X, -np.pi / 2, (-0.0025, 0.01, 0)), size=(0.020, 0.012)),
    )
    tips = [se3.inverse(g.T_grip_part.matrix) for g in grasps(GRIPPER, "ledges", faces, 0.016, 0.15)]
    along = [T for T in tips if abs(T[0, 2]) > 0.9]
    assert len(along) == 4
    for T in along:  # from -7.5 mm, 14 mm on
        assert T[0, 3] == pytest.approx(np.sign(T[0, 2]) * 0.0065)


def test_faces_that_look_at_each_other_are_a_slot_not_a_grip() -> None:
    over = se3.rotation(X, np.pi)
    inward = tuple(replace(f, frame=Pose.from_matrix(f.frame.matrix @ over)) for f in BLOCK[:2])
    assert grasps(GRIPPER, "slot", inward, 0.016, 0.15) == ()
    assert grip_widths(inward) == []


def test_the_surest_come_first() -> None:
    forces = [g.slip_force for g in found("bar")]
    assert forces[0] == max(forces)
    assert forces[-1] == min(forces)
