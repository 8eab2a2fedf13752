"""errors.yaml of a project that is begun from a drawing: nobody has measured anything yet."""

from __future__ import annotations

_HEAD = """\
# How far off everything may be. Nobody has measured it: `unknown` takes a cautious value of its kind.
# Write what you know: sigma: x, y, z, then rotations about x, y, z.
sources:
"""


def errors_text() -> str:
    """Arms, jaws and the nest; places and features are off by their slack and tolerance."""
    lines = [_HEAD.rstrip()]
    for arm in ("left", "right"):
        repeats = ", ".join(["0.01 mm"] * 3 + ["0.002 deg"] * 3)
        lines += [
            f"  {arm} arm against the table:",
            f"    {{acts_on: arm.{arm}.base, changes: installation, sigma: unknown}}",
            f"  {arm} arm repeats:",
            f"    {{acts_on: arm.{arm}.tip, changes: cycle, sigma: [{repeats}]}}",
            f"  {arm} jaws:",
            f"    {{acts_on: gripper.{arm}_gripper.jaw, changes: shift, sigma: unknown}}",
        ]
    lines += ["  nest bolted down:", "    {acts_on: holder.nest, changes: installation, sigma: unknown}"]
    return "\n".join(lines) + "\n"
