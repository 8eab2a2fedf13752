"""Edits of a copy of the pump, as an engineer would make them: the files, and nothing else."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
_STL = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


def copied(folder: Path) -> Path:
    """The pump without its records, in that folder, which must not be there yet."""
    return Path(shutil.copytree(PUMP, folder, ignore=shutil.ignore_patterns("records")))


def replaced(file: Path, *changes: tuple[str, str]) -> None:
    """Texts of a file by others. Each must stand there."""
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, f"{file.name}: {old!r} is not there"
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")


def _stretched(mesh: Path, beyond: float, by: float) -> None:
    """A binary STL with every corner on the far side of z = beyond [mm] moved along z."""
    data = bytearray(mesh.read_bytes())
    rows = np.frombuffer(data, dtype=_STL, offset=84)
    z = rows["corners"][:, :, 2]
    z[z > beyond if by > 0 else z < beyond] += np.float32(by)
    mesh.write_bytes(data)


def thicker_cover(folder: Path) -> None:
    """The cover's flange 6.5 mm thick instead of 6: all above its underside is half a millimetre higher, and
    the screws go half a millimetre less deep."""
    _stretched(folder / "meshes" / "cover.stl", 5.5, 0.5)
    replaced(
        folder / "product.yaml",
        ("fit: F7, length: 6 mm,\n", "fit: F7, length: 6.5 mm,\n"),
        ("size: [5.6 mm, 5 mm], length: 6 mm", "size: [5.6 mm, 5 mm], length: 6.5 mm"),
        ("diameter: 9 mm, length: 16 mm", "diameter: 9 mm, length: 16.5 mm"),
        ("diameter: 9 mm, length: 9 mm", "diameter: 9 mm, length: 9.5 mm"),
        ("at: [39 mm, 25 mm, 6 mm], z_along: -z, diameter: 4.5 mm, length: 6 mm",
         "at: [39 mm, 25 mm, 6.5 mm], z_along: -z, diameter: 4.5 mm, length: 6.5 mm"),
        ("at: [-39 mm, -25 mm, 6 mm]", "at: [-39 mm, -25 mm, 6.5 mm]"),
        ("at: [39 mm, -25 mm, 6 mm]", "at: [39 mm, -25 mm, 6.5 mm]"),
        ("at: [-39 mm, 25 mm, 6 mm]", "at: [-39 mm, 25 mm, 6.5 mm]"),
        ("at: [-19 mm, 0 mm, 11 mm]", "at: [-19 mm, 0 mm, 11.5 mm]"),
        ("at: [19 mm, 0 mm, 11 mm]", "at: [19 mm, 0 mm, 11.5 mm]"),
        *((f"body.tapped_{n}, depth: 6 mm", f"body.tapped_{n}, depth: 5.5 mm") for n in range(1, 5)),
    )  # fmt: skip


def longer_screws(folder: Path) -> None:
    """M4 x 14 instead of M4 x 12."""
    _stretched(folder / "meshes" / "screw.stl", -5.0, -2.0)
    replaced(
        folder / "product.yaml",
        ("at: [0 mm, 0 mm, -12 mm], z_along: -z, thread: M4, external: true, length: 12 mm",
         "at: [0 mm, 0 mm, -14 mm], z_along: -z, thread: M4, external: true, length: 14 mm"),
        *((f"body.tapped_{n}, depth: 6 mm", f"body.tapped_{n}, depth: 8 mm") for n in range(1, 5)),
    )  # fmt: skip


def another_pocket(folder: Path) -> None:
    """The upper block from a pad of its own beside the tray, instead of from the tray."""
    replaced(
        folder / "cell.yaml",
        (", holds: upper_block,", ","),
        ("  side_tray:            # right", _PAD + "  side_tray:            # right"),
    )


_PAD = """\
  pad:                  # beside the tray: as high as its pads, with a stop at each end
    kind: tray
    at: {position: [-385 mm, 400 mm, 0 mm]}
    solids:
      - {box: [8 mm, 38 mm, 25 mm], at: {position: [0 mm, 0 mm, 12.5 mm]}}
      - {box: [6 mm, 4 mm, 29 mm], at: {position: [0 mm, 21.15 mm, 14.5 mm]}}
      - {box: [6 mm, 4 mm, 29 mm], at: {position: [0 mm, -21.15 mm, 14.5 mm]}}
    places:
      block: {at: {position: [0 mm, 0 mm, 25 mm], turn: [0 deg, 0 deg, 90 deg]}, holds: upper_block,
              slack: 0.15 mm, slack_angle: 0.4 deg}
"""
