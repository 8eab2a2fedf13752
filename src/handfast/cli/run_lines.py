"""Lines of a run log as a person follows them."""

from __future__ import annotations

from handfast.cli.screen import say
from handfast.model.run_log import LogLine, RunLog
from handfast.page.wording import seconds

# Starts, ends and plain widths are in the log; these are what a person follows.
SHOWN = (
    "seen", "contact", "insertion", "screw", "estimate", "correction",
    "failure", "recovery", "held", "halt", "stop",
)  # fmt: skip
_MM = {"travel", "expected", "measured", "x", "y", "z"}


def tell_line(line: LogLine) -> None:
    """One line, if it is one that a person follows."""
    if line.event in SHOWN:
        cause = f" ({line.cause})" if line.cause else ""
        say(f"{seconds(line.time_s):>7} s  {line.element}: {line.event}{cause} {_values(line)}")


def tell_end(log: RunLog) -> None:
    """How it ended, and what a person must do."""
    end = seconds(log.lines[-1].time_s) if log.lines else "0.00"
    say(f"{log.ended} after {end} s in the {log.cell} cell" + (f": {log.reason}" if log.reason else ""))


def _values(line: LogLine) -> str:
    """Lengths in mm, angles in mrad, the rest in SI."""
    parts = [_shown(name, value) for name, value in line.values]
    if line.pose is not None:
        x, y, z = (f"{1e3 * v:.2f}" for v in line.pose.position)
        parts.append(f"at {x}, {y}, {z} mm")
    return ", ".join([line.text, *parts] if line.text else parts)


def _shown(name: str, value: float) -> str:
    if name in _MM:
        return f"{name} {1e3 * value:.3f} mm"
    if name in ("rx", "ry", "rz"):
        return f"{name} {1e3 * value:.3f} mrad"
    if name in ("met", "ok"):
        return f"{name}: {'yes' if value else 'no'}"
    units = {"seconds": " s", "peak_force": " N", "torque": " N m", "angle": " rad"}
    return f"{name.replace('_', ' ')} {value:.4g}{units.get(name, '')}"
