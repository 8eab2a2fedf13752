"""Pegs, pins, plates, bars and the base they go into."""

from __future__ import annotations

from typing import Any

from tests.planning.generated.drawn import bore, box, shaft
from tests.planning.generated.recipe import Features, Grip, Piece

PEG, DEEP = 8.0, 18.0
"""Diameter of pegs and pins, and how deep they go."""


def mm(*values: float) -> list[str]:
    """Lengths as the files write them."""
    return [f"{v:g} mm" for v in values]


def _round(kind: str, at: tuple[float, float, float], along: str, diameter: float, length: float,
           fit: str = "", grip: bool = True) -> dict[str, Any]:  # fmt: skip
    out: dict[str, Any] = {"kind": kind, "at": mm(*at), "z_along": along, "diameter": f"{diameter:g} mm"}
    out |= {"length": f"{length:g} mm"} | ({"fit": fit} if fit else {}) | ({} if grip else {"grip": False})
    return out


def hole(x: float, y: float, z: float, diameter: float = PEG, deep: float = DEEP + 2) -> dict[str, Any]:
    """A hole with its mouth up."""
    return _round("hole", (x, y, z), "-z", diameter, deep, "H7")


def _sides(x: float, width: float, long: float, high: float, tag: str = "") -> Features:
    """Two faces across y at x, `long` along x and `high` tall from z = 0."""
    face = {"kind": "face", "x_along": "+x", "size": mm(long, high)}
    return {
        f"front{tag}": {**face, "at": mm(x, -width / 2, high / 2), "z_along": "-y"},
        f"back{tag}": {**face, "at": mm(x, width / 2, high / 2), "z_along": "+y"},
    }


def _grip(x: float, size: tuple[float, float, float], tag: str = "") -> Grip:
    over = min(size[2] - 1, 30)
    return Grip(x, size[2] - over, size[1], (f"front{tag}", f"back{tag}"))


def _peg_under() -> Features:
    return {"peg": _round("shaft", (0, 0, -DEEP), "-z", PEG, DEEP, "g6", grip=False)}


def peg(name: str, size: tuple[float, float, float], holed: bool = False) -> Piece:
    """A block with a peg under it; holed: with a hole in its top for another."""
    solid = box(size) + shaft(PEG, -DEEP, 0.5)
    features = _peg_under() | _sides(0, size[1], size[0], size[2])
    if holed:
        solid -= bore(PEG, size[2], DEEP + 2)
        features["top_hole"] = hole(0, 0, size[2])
    return Piece(name, solid, features, (_grip(0, size),))


def bar(name: str, long: float) -> Piece:
    """A bar with a hole through its middle, to be held at either end."""
    size, end = (long, 24.0, 22.0), long / 2 - 14
    solid = box(size) - bore(PEG, size[2], size[2] + 1)
    features = {"fit_0": _round("hole", (0, 0, 0), "+z", PEG, size[2], "E9")}
    features |= _sides(-end, 24, 24, 22, "_l") | _sides(end, 24, 24, 22, "_r")
    grips = (_grip(-end, size, "_l"), _grip(end, size, "_r"))
    return Piece(name, solid, features, grips, foot=(36.0, 20.0), well=0.0)


def pin(name: str) -> Piece:
    """A pin 40 long, held by its top end."""
    top, tip = (0.0, 0.0, 20.0), (0.0, 0.0, -20.0)
    features = {
        "tip": _round("shaft", tip, "-z", PEG, 20, "g6"),
        "top": _round("shaft", top, "+z", PEG, 14, "g6"),
    }
    return Piece(name, shaft(PEG, -20, 20), features, (Grip(0, 10, PEG, ("top",)),), seat=2.0)


def plate(name: str, size: tuple[float, float, float], fits: list[float], clears: list[float],
          grip_at: float = 0.0) -> Piece:  # fmt: skip
    """A plate: holes at x that fit over pins, others at x that clear them by 1 mm all round."""
    solid = box(size)
    features = _sides(grip_at, size[1], min(26.0, size[0] - 2), size[2])
    for i, x in enumerate(fits):
        solid -= bore(PEG, size[2], size[2] + 1).translate((x, 0, 0))
        features[f"fit_{i}"] = _round("hole", (x, 0, 0), "+z", PEG, size[2], "E9")
    for i, x in enumerate(clears):
        solid -= bore(PEG + 2, size[2], size[2] + 1).translate((x, 0, 0))
        features[f"clear_{i}"] = _round("hole", (x, 0, size[2]), "-z", PEG + 2, size[2])
    return Piece(name, solid, features, (_grip(grip_at, size),), well=0.0)


def base(holes: list[tuple[float, float]], stubs: list[tuple[float, float]] = [],  # noqa: B006
         size: tuple[float, float, float] = (180.0, 120.0, 22.0)) -> Piece:  # fmt: skip
    """The base: holes and upright stubs at x, y; stubs are 14 tall."""
    solid, features = box(size), {}
    for i, (x, y) in enumerate(holes):
        solid -= bore(PEG, size[2], DEEP + 2).translate((x, y, 0))
        features[f"hole_{i}"] = hole(x, y, size[2])
    for i, (x, y) in enumerate(stubs):
        solid += shaft(PEG, size[2] - 1, size[2] + 14).translate((x, y, 0))
        features[f"stub_{i}"] = _round("shaft", (x, y, size[2] + 14), "+z", PEG, 14, "g6")
    return Piece("base", solid, features)
