"""Families of small cells, each with a plan that is meant to work: the proof says whether it does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from tests.planning.generated.drawn import box, shaft
from tests.planning.generated.layout import NEST, Rng, Spot, nest, post, spots, walls
from tests.planning.generated.pieces import bar, base, mm, peg, pin, plate
from tests.planning.generated.recipe import Move, Piece, Recipe, Stand, Wall

ONE = {"only": (0.0, 0.0)}
TWO = {"left": (-500.0, 0.0), "right": (500.0, 0.0)}


def mate(kind: str, part: str, into: str, *pairs: tuple[str, str, float], **more: Any) -> dict[str, Any]:
    """A mate as product.yaml has it; pairs: (moving, fixed, depth in mm)."""
    written = [{"moving": m, "fixed": f, "depth": f"{d:g} mm"} for m, f, d in pairs]
    return {"kind": kind, "part": part, "into": into, "pairs": written, **more}


def _pegs(rng: Rng, arms: dict[str, Spot], name: str) -> Recipe:
    """Blocks with pegs side by side, near enough now and then to stand in each other's way."""
    count = int(rng.integers(1, 4))
    pieces = [peg(f"part_{i}", _size(rng)) for i in range(count)]
    apart = float(rng.choice([34.0, 46.0, 60.0]))
    holes = spots(rng, count, (-65, 65), (-35, 35), [], apart)
    mates = {
        f"m_{i}": mate("insert", f"part_{i}", "base", ("peg", f"base.hole_{i}", 18)) for i in range(count)
    }
    return _set_out(rng, arms, name, [base(holes), *pieces], mates)


def crowded(rng: Rng) -> Recipe:
    """Two or three blocks in each other's way among many walls: whether it can be done, nobody knows."""
    count = int(rng.integers(2, 4))
    pieces = [peg(f"part_{i}", _size(rng)) for i in range(count)]
    holes = spots(rng, count, (-45, 45), (-35, 35), [], float(rng.choice([36.0, 42.0])))
    mates = {
        f"m_{i}": mate("insert", f"part_{i}", "base", ("peg", f"base.hole_{i}", 18)) for i in range(count)
    }
    return _set_out(rng, ONE if rng.random() < 0.5 else TWO, "crowded", [base(holes), *pieces], mates, 6)


def _size(rng: Rng) -> tuple[float, float, float]:
    x, y, z = rng.uniform((20, 18, 16), (34, 40, 34))
    return round(float(x), 1), round(float(y), 1), round(float(z), 1)


def _set_out(
    rng: Rng, arms: dict[str, Spot], name: str, pieces: list[Piece], mates: dict[str, Any], count: int = 2
) -> Recipe:
    """Every piece but the base on a post of its own, walls about; the nearest hand takes each piece."""
    middle = (round(float(rng.uniform(-60, 60)), 1), round(float(rng.uniform(400, 470)), 1))
    free = [p for p in pieces if p.name != "base"]
    wide = 420.0 if len(arms) == 1 else 520.0
    at = spots(rng, len(free), (-wide, wide), (280, 600), [(0, 0), middle], 175)
    yaws = rng.choice([0.0, 0.0, 0.0, 180.0], len(free))
    stands = [nest(*middle)]
    stands += [
        post(p, s, round(float(rng.uniform(30, 60)), 1), float(y))
        for p, s, y in zip(free, at, yaws, strict=True)
    ]
    standing = walls(rng, int(rng.integers(0, count + 1)), at, middle)
    where = {p.name: s for p, s in zip(free, at, strict=True)}
    moves = [Move(nearest(arms, where[m["part"]]), m["part"], n, 0) for n, m in mates.items()]
    return Recipe(name, "", arms, pieces, stands, mates, standing, moves)


def nearest(arms: dict[str, Spot], spot: Spot) -> str:
    """The arm whose base is nearest to a place."""
    return min(arms, key=lambda a: float(np.hypot(arms[a][0] - spot[0], arms[a][1] - spot[1])))


def pegs_one_arm(rng: Rng) -> Recipe:
    """One to three blocks beside each other, one arm."""
    return _pegs(rng, ONE, "pegs-one-arm")


def pegs_two_arms(rng: Rng) -> Recipe:
    """One to three blocks beside each other, two arms."""
    return _pegs(rng, TWO, "pegs-two-arms")


def tower(rng: Rng) -> Recipe:
    """Blocks on top of each other: the order follows from what goes into what."""
    count = int(rng.integers(2, 4))
    sizes = [(s[0], s[1], max(s[2], 24.0)) for s in (_size(rng) for _ in range(count))]
    pieces = [peg(f"part_{i}", s, holed=True) for i, s in enumerate(sizes)]
    mates = {}
    for i in range(count):
        into, hole = ("base", "base.hole_0") if i == 0 else (f"part_{i - 1}", f"part_{i - 1}.top_hole")
        mates[f"m_{i}"] = mate("insert", f"part_{i}", into, ("peg", hole, 18))
    arms = ONE if rng.random() < 0.6 else TWO
    return _set_out(rng, arms, "tower", [base([(0, 0)]), *pieces], mates)


def plate_on_pins(rng: Rng) -> Recipe:
    """Two pins, and a plate over both."""
    half = round(float(rng.uniform(28, 40)), 1)
    pieces = [base([(-half, 0), (half, 0)]), pin("pin_a"), pin("pin_b")]
    pieces.append(plate("cover", (2 * half + 24, 40, 10), [-half, half], []))
    mates = {
        "a": mate("insert", "pin_a", "base", ("tip", "base.hole_0", 18)),
        "b": mate("insert", "pin_b", "base", ("tip", "base.hole_1", 18)),
        "c": mate("seat", "cover", "base", ("fit_0", "pin_a.top", -22), ("fit_1", "pin_b.top", -22)),
    }
    return _set_out(rng, ONE if rng.random() < 0.5 else TWO, "plate-on-pins", pieces, mates, 1)


def under_a_plate(rng: Rng) -> Recipe:
    """A low peg that must go in before the plate that hides it; the file has them the wrong way round."""
    x = round(float(rng.uniform(30, 45)), 1)
    low = peg("low", (26, 22, 16))
    pieces = [base([(x, 0)], [(-30, 0)]), _tall_stub_plate("cover", x + 48), low]
    pieces[0] = _raised(pieces[0])
    mates = {
        "cover": mate("seat", "cover", "base", ("fit_0", "base.stub_0", -14)),
        "low": mate("insert", "low", "base", ("peg", "base.hole_0", 18)),
    }
    recipe = _set_out(rng, ONE if rng.random() < 0.5 else TWO, "under-a-plate", pieces, mates, 1)
    recipe.moves.reverse()
    return recipe


def _raised(piece: Piece) -> Piece:
    """The base with its stub on a pillar 24 tall, so that a plate on it leaves room beneath."""
    top = 22.0
    solid = (
        piece.solid
        + box((26, 26, 24), top).translate((-30, 0, 0))
        + shaft(8, top, top + 38).translate((-30, 0, 0))
    )
    features = {**piece.features}
    features["stub_0"] = {**features["stub_0"], "at": mm(-30, 0, top + 38)}
    return Piece("base", solid, features)


def _tall_stub_plate(name: str, over: float) -> Piece:
    """A plate with its hole 20 from one end, that reaches `over` beyond the hole."""
    long = over + 20
    return plate(name, (long, 40, 10), [20 - long / 2], [], grip_at=20 - long / 2 + 26)


def held_plate(rng: Rng) -> Recipe:
    """A plate that one hand holds until the other has put a pin through it."""
    long = round(float(rng.uniform(164, 180)), 1)
    end = long / 2 - 14
    cover = plate("cover", (long, 36, 10), [-20], [end - 10], grip_at=-end)
    pieces = [base([(end - 10, 0)], [(-20, 0)]), cover, pin("pin")]
    mates = {
        "cover": mate("seat", "cover", "base", ("fit_0", "base.stub_0", -14), ("clear_0", "base.hole_0", -10),
                      held_until="pin"),
        "pin": mate("insert", "pin", "base", ("tip", "base.hole_0", 18)),
    }  # fmt: skip
    middle = (0.0, round(float(rng.uniform(420, 460)), 1))
    a = (round(float(rng.uniform(-460, -240)), 1), round(float(rng.uniform(320, 560)), 1))
    b = (round(float(rng.uniform(240, 460)), 1), round(float(rng.uniform(320, 560)), 1))
    stands = [nest(*middle), post(cover, a), post(pieces[2], b)]
    moves = [Move("left", "cover", "cover", 0, keep=True), Move("right", "pin", "pin", 0, free=("left",))]
    return Recipe(
        "held-plate", "", TWO, pieces, stands, mates, walls(rng, int(rng.integers(0, 2)), [b], middle), moves
    )


def far_apart(rng: Rng) -> Recipe:
    """A bar that lies where only one hand reaches and belongs where only the other does."""
    long = round(float(rng.uniform(150, 180)), 1)
    side = float(rng.choice([-1.0, 1.0]))
    first, last = ("left", "right") if side < 0 else ("right", "left")
    piece = bar("bar", long)
    start = (round(side * float(rng.uniform(720, 860)), 1), round(float(rng.uniform(330, 480)), 1))
    end = (round(-side * float(rng.uniform(720, 800)), 1), round(float(rng.uniform(330, 480)), 1))
    stands = [nest(*end), post(piece, start)]
    mates = {"bar": mate("seat", "bar", "base", ("fit_0", "base.stub_0", -14))}
    ends = (0, 1) if side < 0 else (1, 0)
    at = (0.0, 430.0, 180.0)
    moves = [Move(first, "bar", "bar", ends[0], f"hand.{last}", at), Move(last, "bar", "bar", ends[1])]
    standing = walls(rng, int(rng.integers(0, 2)), [start], end)
    return Recipe("far-apart", "", TWO, [base([], [(0, 0)]), piece], stands, mates, standing, moves)


def regrasp(rng: Rng) -> Recipe:
    """One arm; one end of a bar is walled in at its start, the other at its goal: set it down between."""
    long = round(float(rng.uniform(150, 180)), 1)
    piece = bar("bar", long)
    goal = (round(float(rng.uniform(-40, 40)), 1), round(float(rng.uniform(420, 470)), 1))
    start, spot = (-330.0, 380.0), (330.0, 380.0)
    stands = [nest(*goal), post(piece, start, 60.0), Stand("rest", "set-down", *spot, (60.0, 40.0, 60.0))]
    mates = {"bar": mate("seat", "bar", "base", ("fit_0", "base.stub_0", -14))}
    standing = _beside(start, long, 1, "a", 0.0) + _beside(goal, long, -1, "b", NEST + 23)
    moves = [Move("only", "bar", "bar", 0, "spot"), Move("only", "bar", "bar", 1)]
    return Recipe("regrasp", "", ONE, [base([], [(0, 0)]), piece], stands, mates, standing, moves)


def _beside(at: Spot, long: float, end: int, tag: str, low: float) -> list[Wall]:
    """Two walls close to one end of a bar, higher than its top: no finger comes between, the bar does."""
    x = at[0] + end * (long / 2 - 14)
    return [
        Wall(f"cheek_{tag}{s}", x, at[1] + s * (12 + 5 + 4), (40.0, 8.0, 130.0 - low), low) for s in (-1, 1)
    ]


FAMILIES: dict[str, Callable[[Rng], Recipe]] = {
    "pegs, one arm": pegs_one_arm,
    "pegs, two arms": pegs_two_arms,
    "tower": tower,
    "plate on pins": plate_on_pins,
    "under a plate": under_a_plate,
    "held plate": held_plate,
    "far apart": far_apart,
    "regrasp": regrasp,
}
