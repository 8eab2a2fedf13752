"""The same process in truth: poses multiplied as they are, errors drawn, jaws closed, thousands of builds
at once.

Shares no code with what it checks: its own exponential and logarithm, no linearisation anywhere, the
process written out step by step for the hand-made chart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from tests.uncertainty import first_fit_chart as c

from handfast.model.error_source import ErrorSource
from handfast.model.project import Project

Array = NDArray[np.float64]


def rotation_matrix(v: Array) -> Array:
    """Rodrigues' formula for rotation vectors (n, 3)."""
    angle = np.linalg.norm(v, axis=-1)[:, None, None]
    safe = np.where(angle == 0, 1.0, angle)
    k = cross_matrix(v / safe[:, :, 0])
    return np.asarray(np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k))


def cross_matrix(v: Array) -> Array:
    """(n, 3) -> (n, 3, 3)."""
    x, y, z = v.T
    o = np.zeros_like(x)
    return np.stack([np.stack([o, -z, y], -1), np.stack([z, o, -x], -1), np.stack([-y, x, o], -1)], -2)


def exp(xi: Array) -> Array:
    """Screw motions (n, 6), translation first, by the series sum of M^k/k! (under 0.1 rad: 1e-14)."""
    M = np.zeros((len(xi), 4, 4))
    M[:, :3, :3], M[:, :3, 3] = cross_matrix(xi[:, 3:]), xi[:, :3]
    out, term = np.tile(np.eye(4), (len(xi), 1, 1)), np.tile(np.eye(4), (len(xi), 1, 1))
    for k in range(1, 9):
        term = term @ M / k
        out = out + term
    return out


def log(T: Array) -> Array:
    """Inverse of exp for small motions (n, 4, 4), by the series of log(1 + E)."""
    E = T - np.eye(4)
    out, power = np.zeros_like(T), np.tile(np.eye(4), (len(T), 1, 1))
    for k in range(1, 12):
        power = power @ E
        out = out + (-1) ** (k + 1) * power / k
    W = out[:, :3, :3]
    return np.concatenate([out[:, :3, 3], np.stack([W[:, 2, 1], W[:, 0, 2], W[:, 1, 0]], -1)], -1)


def inv(T: Array) -> Array:
    """By the general matrix inverse."""
    return np.asarray(np.linalg.inv(T), dtype=np.float64)


@dataclass
class TrueBuild:
    """n builds with errors drawn from the project's sources."""

    project: Project
    n: int
    rng: np.random.Generator
    drawn: dict[tuple[str, str], Array] = field(default_factory=dict)

    def error(self, edge: str, stop: str = "") -> Array:
        """The true motion at an edge (n, 4, 4); drawn once a build, or once a stop where it changes per
        cycle.
        """
        out = np.tile(np.eye(4), (self.n, 1, 1))
        for source in self.project.errors:
            if source.acts_on == edge:
                out = out @ exp(self.draw(source, stop if source.changes == "cycle" else ""))
        return out

    def draw(self, source: ErrorSource, stop: str) -> Array:
        key = (source.name, stop)
        if key not in self.drawn:
            unit = self.rng.standard_normal((self.n, 6))
            if source.distribution == "uniform":
                unit = self.rng.uniform(-math.sqrt(3), math.sqrt(3), (self.n, 6))
            while source.distribution == "truncated" and (np.abs(unit) > source.truncation).any():
                again = self.rng.standard_normal((self.n, 6))
                unit = np.where(np.abs(unit) > source.truncation, again, unit)
            self.drawn[key] = unit * np.array(source.sigma)
        return self.drawn[key]

    def left(self, part: str, *offsets: Array, springs: Array | None = None) -> list[Array]:
        """Offsets (n, 2) of a shaft from its hole's axis, at its ends, held back by this build's sizes.

        springs (2, 2): of the hand by both ends, per axis [N/m]; their energy is made least, step by step
        down its slope and back into the hole (accelerated: Nesterov 1983).
        ISO 286-1, 6-10 mm: H7 0/+15, g6 -14/-5, E9 +25/+61 um; normal with their limits at three sigma.
        """
        low, high = {"pin": (0.0, 15e-6), "cover": (25e-6, 61e-6)}[part]
        hole = self.rng.normal((low + high) / 2, (high - low) / 6, self.n)
        radius = (hole - self.rng.normal(-9.5e-6, 9e-6 / 6, self.n)) / 2
        d = np.stack(offsets)
        springs = np.eye(len(d)) if springs is None else springs
        steepest = np.linalg.eigvalsh(springs)[-1]
        found, ahead = np.zeros_like(d), np.zeros_like(d)
        for step in range(400):
            last, found = found, ahead - np.einsum("ij,jnk->ink", springs / steepest, ahead - d)
            found *= np.minimum(1.0, radius / np.maximum(np.linalg.norm(found, axis=2), 1e-12))[..., None]
            ahead = found + step / (step + 3) * (found - last)
        return list(found)

    def slack(self, half_widths: Array) -> Array:
        """Twists (n, 6) uniform within half widths (6,)."""
        return np.asarray(self.rng.uniform(-1, 1, (self.n, 6)) * half_widths)

    def grip(self, hand: str, T_world_grip: Array, stop: str) -> Array:
        """Where the jaws really are when the arm is told to bring them to T_world_grip."""
        base = self.project.cell.arm(hand).base.matrix
        mount = self.project.cell.gripper_of(hand).mount.matrix
        tip = inv(base) @ T_world_grip @ inv(mount)
        actual = base @ self.error(f"arm.{hand}.base") @ tip @ self.error(f"arm.{hand}.tip", stop)
        return np.asarray(actual @ mount @ self.error(f"gripper.{hand}_gripper.jaw"))

    def closed(self, hand: str, which: str, T_item: Array, T_item_nominal: Array, stop: str) -> Array:
        """True T_grip_item after the jaws have closed: closed freedoms as planned, free ones as they were
        found.
        """
        grasp = c.GRASPS[which]
        T_grip_item = grasp.T_grip_part.matrix
        jaws = self.grip(hand, T_item_nominal @ inv(T_grip_item), stop)
        eta = log(inv(jaws) @ T_item @ inv(T_grip_item))
        free = self.error(f"grasp.{hand}_gripper.free", stop)
        eta = np.where(np.array(grasp.closed), 0.0, eta + log(free))
        return exp(eta) @ T_grip_item


@dataclass
class OneAtATime(TrueBuild):
    """Build 6 i + j has the j-th freedom of the i-th source off by `step` sigma at every stop, and nothing
    else off.
    """

    step: float = 1e-3
    # So near to nothing the play lets all through: what is told of it is the slope over all builds.
    gain: dict[str, Array] = field(default_factory=dict)

    def draw(self, source: ErrorSource, stop: str) -> Array:
        out = np.zeros((self.n, 6))
        first = 6 * [s.name for s in self.project.errors].index(source.name)
        out[first : first + 6] = self.step * np.diag(source.sigma)
        return out

    def left(self, part: str, *offsets: Array, springs: Array | None = None) -> list[Array]:
        out = np.hstack(offsets) @ self.gain[part].T
        return [out[:, 2 * i : 2 * i + 2] for i in range(len(offsets))]

    def slack(self, half_widths: Array) -> Array:
        return np.zeros((self.n, 6))


@dataclass(frozen=True)
class Outcome:
    """delta (n, 6) of each mate's pairs, twist in the fixed feature's frame; readings (n,): measured minus
    expected travel.
    """

    pin: Array
    cover: Array
    screw: Array
    screw_in_cover: Array
    thread_under_cover: Array
    reading: Array


def build(project: Project, n: int, seed: int, gains: dict[str, Array] | None = None) -> Outcome:
    """n builds of first-fit. gains: what is taken back of the touch's reading before each mate, by mate."""
    return done(TrueBuild(project, n, np.random.default_rng(seed)), gains or {})


def done(b: TrueBuild, gains: dict[str, Array]) -> Outcome:
    """The process, step by step."""
    process = _Process(b, gains)
    block = at_place(b, "block")
    in_right = process.brought_and_touched(block)
    pin_delta, pin = process.inserted(block, in_right)
    cover_delta, cover = process.seated(block, pin)
    return Outcome(pin_delta, cover_delta, *process.driven(block, cover), process.reading)


class _Process:
    """What hands do in all builds at once. reading: what the touch of the pin has shown."""

    def __init__(self, b: TrueBuild, gains: dict[str, Array]) -> None:
        self.b, self.gains, self.reading = b, gains, np.zeros(b.n)
        self.feature = {(p.name, f.name): f.frame.matrix for p in b.project.product.parts for f in p.features}

    def there(self, part: Array, name: str, what: str) -> Array:
        """Where a feature of a part is."""
        return part @ self.feature[name, what] @ self.b.error(f"feature.{name}.{what}")

    def off(self, fixed: Array, moving: Array, nominal: Array) -> Array:
        """How far off it is."""
        return log(inv(fixed) @ moving @ inv(nominal))

    def corrected(self, mate: str, fixed: Array, T_world_item: Array) -> Array:
        """Where a hand goes after the touch."""
        K = self.gains.get(mate, np.zeros(6))
        return fixed @ exp(-self.reading[:, None] * K) @ inv(fixed) @ T_world_item

    def brought_and_touched(self, block: Array) -> Array:
        """The pin by the left hand, handed over, touched; how it lies in the right hand."""
        pin = at_place(self.b, "pin")
        in_left = self.b.closed("left", "left pin", pin, c.T_PIN_TRAY, "take pin")
        pin = self.b.grip("left", c.T_PIN_HANDOVER @ c.LEFT_ON_PIN, "bring pin") @ in_left
        in_right = self.b.closed("right", "right pin", pin, c.T_PIN_HANDOVER, "take pin over")
        pin = self.b.grip("right", c.T_PIN_CONTACT @ c.RIGHT_ON_PIN, "touch") @ in_right
        face = self.there(block, "block", "end")
        point = pin @ np.array([*c.TOUCH.point, 1.0])
        normal = face[:, :3, 2]
        along = -(c.T_BLOCK @ self.feature["block", "end"])[:3, 2]
        gap = np.sum(normal * (point[:, :3] - face[:, :3, 3]), axis=1)
        noise = sum(
            (self.b.draw(s, "touch")[:, 0] for s in self.b.project.errors if s.acts_on == "touch.right"),
            np.zeros(self.b.n),
        )
        self.reading = -gap / (normal @ along) + noise
        return in_right

    def inserted(self, block: Array, in_right: Array) -> tuple[Array, Array]:
        """The pin into the bore: how far off it came, and where it is."""
        bore = c.T_BLOCK @ self.feature["block", "bore"]
        mouth = c.at(0, 0, 20) @ c.T_PIN_HOME
        told = self.corrected("pin-in-bore", bore, mouth)
        pin = self.b.grip("right", told @ c.RIGHT_ON_PIN, "insert") @ in_right
        nominal = inv(bore) @ mouth @ self.feature["pin", "tip"]
        pin_delta = self.off(self.there(block, "block", "bore"), self.there(pin, "pin", "tip"), nominal)

        # In the bore: within the play at the mouth and at the end; height and roll as they came.
        at_end = pin_delta[:, :2] + 0.020 * np.stack([pin_delta[:, 4], -pin_delta[:, 3]], -1)
        lever = (np.linalg.inv(bore) @ c.T_PIN_HOME @ c.RIGHT_ON_PIN)[2, 3] / 0.020
        at_grip, tilting = np.array([1 - lever, lever]), np.array([-1, 1]) / 0.020
        support = self.b.project.cell.controller
        springs = support.lateral_stiffness * np.outer(at_grip, at_grip)
        springs += support.angular_stiffness * np.outer(tilting, tilting)
        mouth_play, end_play = self.b.left("pin", pin_delta[:, :2], at_end, springs=springs)
        tilt = (end_play - mouth_play) / 0.020
        home = pin_delta.copy()
        home[:, :2], home[:, 3], home[:, 4] = mouth_play, -tilt[:, 1], tilt[:, 0]
        T_bore_tip = np.linalg.inv(bore) @ c.T_PIN_HOME @ self.feature["pin", "tip"]
        tip = self.there(block, "block", "bore") @ exp(home) @ T_bore_tip
        pin = tip @ inv(self.b.error("feature.pin.tip")) @ np.linalg.inv(self.feature["pin", "tip"])
        return pin_delta, pin

    def seated(self, block: Array, pin: Array) -> tuple[Array, Array]:
        """The cover on the block and the pin: the same of it."""
        cover = at_place(self.b, "cover")
        in_left = self.b.closed("left", "left cover", cover, c.T_COVER_TRAY, "take cover")
        top = c.T_PIN_HOME @ self.feature["pin", "top"]
        mouth = c.at(0, 0, 20) @ c.T_COVER_HOME
        cover = (
            self.b.grip("left", self.corrected("cover-on-block", top, mouth) @ c.LEFT_ON_COVER, "seat")
            @ in_left
        )
        nominal = inv(top) @ mouth @ self.feature["cover", "pin_hole"]
        cover_delta = self.off(self.there(pin, "pin", "top"), self.there(cover, "cover", "pin_hole"), nominal)

        # On the block: x, y by the pin with play, height and tilt by the block, roll as it came.
        (play,) = self.b.left("cover", cover_delta[:, :2])
        T_top_hole = inv(top) @ c.T_COVER_HOME @ self.feature["cover", "pin_hole"]
        beneath = self.off(self.there(pin, "pin", "top"), block @ np.linalg.inv(c.T_BLOCK) @ top, np.eye(4))
        punched = self.b.error("feature.cover.pin_hole")
        seated = log(T_top_hole @ punched @ np.linalg.inv(T_top_hole))[:, 2:5] + beneath[:, 2:5]
        home = np.concatenate([play, seated, cover_delta[:, 5:]], axis=1)
        hole = self.there(pin, "pin", "top") @ exp(home) @ T_top_hole
        cover = hole @ inv(punched) @ np.linalg.inv(self.feature["cover", "pin_hole"])
        return cover_delta, cover

    def driven(self, block: Array, cover: Array) -> tuple[Array, Array, Array]:
        """The screw by the driver from its stand: how far off thread and cover it came, and how they lie."""
        driver = at_place(self.b, "driver")
        in_right = self.b.closed("right", "right driver", driver, c.T_DRIVER_STAND, "take driver")
        tapped = c.T_BLOCK @ self.feature["block", "tapped"]
        mouth = c.at(0, 0, 6) @ c.T_SCREW_HOME
        told = self.corrected("cover-screw", tapped, mouth)
        T_driver_screw = c.T_DRIVER_BIT @ np.linalg.inv(c.T_SCREW_BIT)
        hand = told @ np.linalg.inv(T_driver_screw) @ c.RIGHT_ON_DRIVER
        bit = (
            self.b.grip("right", hand, "drive") @ in_right @ c.T_DRIVER_BIT @ self.b.error("tool.driver.bit")
        )
        shank = self.there(bit @ np.linalg.inv(c.T_SCREW_BIT), "screw", "shank")
        nominal = inv(tapped) @ mouth @ self.feature["screw", "shank"]
        screw_delta = self.off(self.there(block, "block", "tapped"), shank, nominal)
        through = c.T_COVER_HOME @ self.feature["cover", "screw_hole"]
        nominal = inv(through) @ mouth @ self.feature["screw", "shank"]
        hole = self.there(cover, "cover", "screw_hole")
        in_cover = self.off(hole, shank, nominal)
        below = self.off(hole, self.there(block, "block", "tapped"), inv(through) @ tapped)
        return screw_delta, in_cover, below


def at_place(b: TrueBuild, item: str) -> Array:
    """True pose of what lies in a place."""
    holder, place = b.project.cell.place_of(item)
    there = holder.pose.matrix @ b.error(f"holder.{holder.name}") @ place.pose.matrix
    edge = f"place.{holder.name}.{place.name}"
    if any(s.acts_on == edge for s in b.project.errors):
        return np.asarray(there @ b.error(edge))
    half = np.array([place.slack, place.slack, 0.0, 0.0, 0.0, place.slack_angle])
    return np.asarray(there @ exp(b.slack(half)))
