"""Answers -> a first project folder."""

from __future__ import annotations

import re
from pathlib import Path

from handfast.files.schema_files import pointer, schema_texts
from handfast.files.starter.answers import Answers
from handfast.files.starter.project_text import GAP, bore_depth, pocket_depth, project_texts, tray_size


class NewProjectError(ValueError):
    """A project that cannot be begun: the message says what was expected and found."""


def new_project(folder: str | Path, answers: Answers) -> tuple[Path, ...]:
    """Write a project that plans one pin into one block; the files written.

    Raises NewProjectError if the answers contradict each other, the name is none or something is there
    already; OSError if the folder cannot be written.
    """
    home = Path(folder)
    must_be_new(home)
    _must_agree(answers)
    from handfast.geometry.drawn_block import block_with_bore

    v = dict(answers.values)
    d = v["pin_diameter"]
    texts = {
        name: pointer(name.removesuffix(".yaml"), "schema") + text
        for name, text in project_texts(home.name, answers).items()
    }
    files = {name: text.encode() for name, text in texts.items()}
    files |= {f"schema/{name}": text.encode() for name, text in schema_texts().items()}
    files["meshes/block.stl"] = block_with_bore(v["block_size"], d, bore_depth(v), v["chamfer"])
    files["meshes/tray.stl"] = block_with_bore(tray_size(v), d + GAP, pocket_depth(v))
    for name, data in files.items():
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_bytes(data)
    return tuple(home / name for name in files)


def must_be_new(home: Path) -> None:
    """Raises NewProjectError unless a project of that name can be begun there."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 _-]*", home.name):
        raise NewProjectError(
            f"expected a name of letters, digits, hyphens and underscores, found {home.name!r}"
        )
    if home.exists() and (not home.is_dir() or any(home.iterdir())):
        raise NewProjectError(f"{home}: expected a new or empty folder, found something there already")


def _must_agree(answers: Answers) -> None:
    v = answers.values
    x, y, z = v["block_size"]
    agreements = (
        (v["depth"] < z, "depth", "less than the height of the block"),
        (v["depth"] <= v["pin_length"] / 2, "depth", "at most half the pin's length: a hand holds the rest"),
        (v["pin_diameter"] + 2 * v["chamfer"] < min(x, y), "pin_diameter", "less than the block is wide"),
        (v["pin_diameter"] < v["jaw_opening"], "pin_diameter", "less than the jaws open"),
    )
    for holds, key, wanted in agreements:
        if not holds:
            raise NewProjectError(f"{key}: expected {wanted}, found {1e3 * v[key]:.4g} mm")
