"""Drawing errors and sizes: every draw has its own stream, named by what it is for and never by when it is
asked for."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass

import numpy as np

from handfast.model.error_source import ErrorSource
from handfast.model.feature import Feature
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.standards.limits_and_fits import limits

_WAVES = 256  # of a drawn smooth field


def stream(*keys: str | int) -> np.random.Generator:
    """A generator whose stream depends on the keys alone (sha256)."""
    text = "\x1f".join(str(k) for k in keys)
    return np.random.default_rng(int.from_bytes(hashlib.sha256(text.encode()).digest(), "big"))


@dataclass(frozen=True, slots=True)
class Nesting:
    """How many builds in a row share one installation, one shift, one lot. 1: each build meets another
    cell."""

    installation: int = 1
    shift: int = 1
    lot: int = 1

    def number(self, changes: str, build: int) -> int:
        """Which installation, shift, lot or build a build belongs to."""
        shared = {"installation": self.installation, "shift": self.shift, "lot": self.lot}
        return build // shared.get(changes, 1)


EACH_ANEW = Nesting()


@dataclass(frozen=True, slots=True)
class Draws:
    """The errors of one build. scale: of every sigma, to make rare failures frequent."""

    sources: tuple[ErrorSource, ...]
    seed: int
    build: int
    nesting: Nesting = EACH_ANEW
    scale: float = 1.0

    def deviation(self, acts_on: str, occasion: str = "", at: Array | None = None) -> Array:
        """Exp(xi) (4, 4) of all sources on that edge. occasion: names the draw of what changes with each
        cycle; at (3,) [m]: where an arm's tip stands, for sources that are smooth fields."""
        T = np.eye(4)
        for source in self.sources:
            if source.acts_on == acts_on:
                T = T @ se3.exp(self.twist(source, occasion, at))
        return T

    def acts(self, acts_on: str) -> bool:
        """Whether any source acts there."""
        return any(s.acts_on == acts_on for s in self.sources)

    def twist(self, source: ErrorSource, occasion: str = "", at: Array | None = None) -> Array:
        """One draw of one source, (6,) [m, rad]."""
        number = self.nesting.number(source.changes, self.build)
        of = occasion if source.changes == "cycle" else ""
        rng = stream(self.seed, "source", source.name, source.changes, number, of)
        if source.correlation_length > 0 and at is not None:
            unit = _field(rng, at / source.correlation_length)
        else:
            unit = _unit(rng, source)
        return np.asarray(self.scale * np.array(source.sigma) * unit)

    def uniform(self, half_widths: Array, *keys: str) -> Array:
        """Uniform within +-half_widths (n,), one draw a build; scaled as the sigmas are."""
        unit = stream(self.seed, "uniform", *keys, self.build).uniform(-1, 1, len(half_widths))
        return np.asarray(self.scale * unit * half_widths)

    def within_tolerance(self, part: str, feature: Feature) -> Array:
        """How far this lot's feature is off its drawn place (6,) [m, rad], by its position tolerance alone.

        The rule stands in model/feature.py.
        """
        off = np.zeros(6)
        if not feature.position_tolerance:
            return off
        rng = stream(self.seed, "tolerance", part, feature.name, self.nesting.number("lot", self.build))
        free = {"face": [2], "slot": [1]}.get(feature.kind, [0, 1])
        unit = _cut_normal(rng, len(free), 3.0)
        off[free] = self.scale * feature.position_tolerance / 6 * unit
        return off

    def diameter(self, part: str, feature: Feature) -> float:
        """Size [m] of this build's part: normal about the middle of the tolerance, the limits at three sigma
        and cut there; or as the lot at hand was measured, cut at the same limits."""
        if feature.diameter is None:
            raise ValueError(
                f"{part}.{feature.name}: expected a diameter, found none; write `diameter: 8 mm`"
            )
        rng = stream(self.seed, "size", part, feature.name, self.build)
        allowed = None if feature.fit is None else limits(feature.diameter, feature.fit)
        lot = feature.lot
        if lot is not None and lot.mean is not None and lot.sigma is not None:
            low, high = (0.0, math.inf) if allowed is None else (allowed.lower, allowed.upper)
            return _within(rng, lot.mean, lot.sigma, low, high)
        if allowed is None:
            return feature.diameter
        return allowed.middle + allowed.width / 6 * float(_cut_normal(rng, 1, 3.0)[0])

    def has(self, what: str, part: str, feature: Feature) -> bool:
        """Whether this build's part has a burr ("burr") there, or lacks its lead-in ("no chamfer")."""
        if feature.lot is None:
            return False
        rate = feature.lot.burrs if what == "burr" else feature.lot.missing_chamfers
        return rate > 0 and float(stream(self.seed, what, part, feature.name, self.build).uniform()) < rate

    def between(self, limits: tuple[float, float], *keys: str) -> float:
        """A size of this build between its limits, drawn as diameters are."""
        rng = stream(self.seed, "between", *keys, self.build)
        return 0.5 * sum(limits) + (limits[1] - limits[0]) / 6 * float(_cut_normal(rng, 1, 3.0)[0])


def _within(rng: np.random.Generator, mean: float, sigma: float, low: float, high: float) -> float:
    """A normal draw between low and high, which hold the mean; those outside are drawn again."""
    while True:
        found = float(rng.normal(mean, sigma))
        if low <= found <= high or sigma == 0:
            return found


def _unit(rng: np.random.Generator, source: ErrorSource) -> Array:
    """Six draws, scaled by sigma afterwards."""
    if source.distribution == "uniform":
        return np.asarray(rng.uniform(-math.sqrt(3), math.sqrt(3), 6))
    if source.distribution == "truncated":
        return _cut_normal(rng, 6, source.truncation)
    return np.asarray(rng.standard_normal(6))


def _cut_normal(rng: np.random.Generator, count: int, limit: float) -> Array:
    """Standard normal draws, those beyond +-limit drawn again."""
    out = rng.standard_normal(count)
    while (beyond := np.abs(out) > limit).any():
        out[beyond] = rng.standard_normal(int(beyond.sum()))
    return np.asarray(out)


def _field(rng: np.random.Generator, point: Array) -> Array:
    """Six smooth fields of unit variance at a point (3,) in units of their correlation length.

    Sums of cosines with normal wave vectors: correlation exp(-d^2/2) (random Fourier features, Rahimi and
    Recht 2007, from memory).
    """
    waves, phases = rng.standard_normal((6, _WAVES, 3)), rng.uniform(0, 2 * math.pi, (6, _WAVES))
    return np.asarray(math.sqrt(2 / _WAVES) * np.cos(waves @ point + phases).sum(axis=1))
