"""How well touches tell where a part is, on the set-up of touch_setup.yaml, and what one update costs."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.verification.touch_real import play_real
from tests.verification.touch_setup import (
    ITERATIONS,
    RUNS,
    SETUP,
    Outcome,
    Run,
    chosen,
    play,
    prior,
    run_of,
    sensing,
    true_travels,
)

from handfast.belief.consistency import mean_square_band
from handfast.belief.update import update


def told(name: str, run: Run, outcomes: list[Outcome]) -> str:
    apart = np.concatenate([o.distance for o in outcomes]) * 1e3
    squares = [o.squares.mean() / len(run.free) for o in outcomes]
    shown = ", ".join(f"{s:.2f}" for s in squares)
    median, last = np.median(apart), np.quantile(apart, 0.99)
    return f"  {name:<27} median {median:.3f} mm, 99th percentile {last:.3f} mm; NEES {shown}"


def cost(run: Run, count: int = 200) -> float:
    """CPU time of taking all touches in at once [ms]: other work on the machine does not count."""
    moves = chosen(run)
    sense, before = sensing(run, moves, 1e-8 * np.eye(len(moves))), prior(run)
    reading = true_travels(run, moves, 0.5 * np.sqrt(np.diag(before.covariance)))
    started = time.process_time()
    for _ in range(count):
        update(before, sense, reading, iterations=ITERATIONS)
    return (time.process_time() - started) / count * 1e3


def main() -> None:
    for name in RUNS:
        run = run_of(name)
        started = time.process_time()
        moves = chosen(run)
        took = time.process_time() - started
        band = mean_square_band(len(run.free), SETUP["cases"])
        low, high = (b / len(run.free) for b in band)
        print(f"{name}: {run.count} touches of {len(run.moves)}, chosen in {took:.2f} s of CPU")
        print(f"  NEES per freedom should lie in {low:.2f} to {high:.2f}")
        print(told("ideal sensing", run, [play(run, moves, s) for s in SETUP["seeds"]]))
        print(told("slip, field, jitter, datum", run, [play_real(run, moves, s) for s in SETUP["seeds"]]))
        print(f"  an update with all {run.count}: {cost(run):.2f} ms of CPU")


if __name__ == "__main__":
    main()
