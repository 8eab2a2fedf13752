"""A revised drawing -> the project brought up to it, every hand edit kept."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml

from handfast.files.schema_files import pointer
from handfast.geometry.cad.part_mesh import stl_of
from handfast.geometry.cad.read_cad import Limits, Progress, read_cad
from handfast.mates.from_cad.guess import Guessed
from handfast.mates.from_cad.recognise import part_names, recognise
from handfast.model.mate import Mate
from handfast.workflow.from_cad.cell_of import cell_of, extra_place
from handfast.workflow.from_cad.edit_yaml import edited
from handfast.workflow.from_cad.identity import Match
from handfast.workflow.from_cad.lying import lying
from handfast.workflow.from_cad.merge import Change, Conflict, merge
from handfast.workflow.from_cad.product_text import mesh_name, product_text
from handfast.workflow.from_cad.renamed import Names, renamed
from handfast.workflow.from_cad.same_parts import names_between
from handfast.workflow.from_cad.ways import up_of, with_stands
from handfast.workflow.new_from_cad import LAST_CELL, LAST_READ, project_files, tried

Tree = dict[str, Any]
BEFORE = "cad/product_before.yaml"


class UpdateError(ValueError):
    """A project that cannot be brought up to a drawing: the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Updated:
    """changes: made to product.yaml; conflicts: both changed it, the hand edit stays; refused: written by
    reference, to be edited by hand; questions: what to look at, the weightiest first; again: mates to plan
    and budget again."""

    changes: tuple[Change, ...]
    conflicts: tuple[Conflict, ...]
    refused: tuple[Change, ...]
    questions: tuple[str, ...]
    again: tuple[str, ...]


def update_from_cad(
    folder: str | Path, source: str | Path, limits: Limits | None = None, progress: Progress | None = None
) -> Updated:
    """Merge a revised drawing into the project in that folder.

    Raises UpdateError if the project was not begun from a drawing or its product.yaml cannot be read,
    CadError for a file that cannot be read, OSError if the folder cannot be written. Nothing is written
    before all is known.
    """
    home = Path(folder)
    last, mine, text = _state(home)
    assembly = read_cad(source, limits, progress)
    wanted = str(last.get("base", ""))
    known = part_names([i.name for i in assembly.instances])
    guessed = with_stands(recognise(assembly, wanted if wanted in known else None, progress))
    drawn = _drawn(home, guessed, Path(source).name)
    by_drawing, told = names_between(last, drawn)
    drawn = renamed(drawn, by_drawing)
    by_hand, _ = names_between(mine, last, names_tell=True)
    last, drawn = renamed(last, by_hand), renamed(drawn, by_hand)
    changes, conflicts = merge(last, mine, drawn, set())
    changes, kept = _not_in_use(changes, mine, last)
    new_text, refused = edited(text, changes)
    meshes = {f"meshes/{mesh_name(p)}.stl": stl_of(p.placed.graph) for p in guessed.parts}
    again = _again(home, meshes, changes, mine, drawn)
    called = {p.name: by_hand.part(by_drawing.part(p.name)) for p in guessed.parts}
    cell = _cell(home, guessed, mine, drawn, called)
    questions = (*kept, *_questions(_under_names_of(by_hand, told), changes))
    _write(home, text, new_text, cell, meshes, drawn)
    return Updated(tuple(changes), tuple(conflicts), tuple(refused), questions, again)


def _state(home: Path) -> tuple[Tree, Tree, str]:
    for name in (LAST_READ, "product.yaml"):
        if not (home / name).is_file():
            raise UpdateError(
                f"{home}: expected a project that was begun from a drawing (with {name} in it), found none; "
                "begin "
                "one with `handfast new NAME --from assembly.step`"
            )
    text = (home / "product.yaml").read_text(encoding="utf-8")
    trees = []
    for name, content in (
        (LAST_READ, (home / LAST_READ).read_text(encoding="utf-8")),
        ("product.yaml", text),
    ):
        try:
            tree = yaml.safe_load(content)
        except yaml.YAMLError as error:
            raise UpdateError(f"{home / name}: expected YAML that can be read: {error}") from error
        if not isinstance(tree, dict) or not isinstance(tree.get("parts"), dict):
            raise UpdateError(f"{home / name}: expected a product with parts, found none")
        trees.append(tree)
    return trees[0], trees[1], text


def _drawn(home: Path, guessed: Guessed, source: str) -> Tree:
    """What would be written for this drawing, without what its own mesh does not bear out."""
    left_out, _ = tried(project_files(home.name, guessed, source, {}), guessed)
    tree = yaml.safe_load(product_text(guessed, source, left_out))
    tree.setdefault("mates", {})
    tree["mates"] = tree["mates"] or {}
    return dict(tree)


def _not_in_use(changes: list[Change], mine: Tree, last: Tree) -> tuple[list[Change], list[str]]:
    """What the drawing has lost stays where a mate that a person wrote still names it."""
    by_hand = [m for name, m in (mine.get("mates") or {}).items() if name not in (last.get("mates") or {})]
    named = {(str(m.get("part")), str(p["moving"])) for m in by_hand for p in m.get("pairs", [])}
    named |= {tuple(str(p["fixed"]).split(".", 1)) for m in by_hand for p in m.get("pairs", [])}  # type: ignore[misc]
    kept, out = [], []
    for c in changes:
        if (
            c.what == "remove"
            and len(c.path) == 4
            and c.path[2] == "features"
            and (c.path[1], c.path[3]) in named
        ):
            kept.append(
                f"{c.path[1]}.{c.path[3]} is no longer drawn, but a mate of yours names it: is it gone?"
            )
        else:
            out.append(c)
    return out, kept


def _under_names_of(by_hand: Names, told: dict[str, list[Match]]) -> dict[str, list[Match]]:
    """The same under the names that a person has given."""
    return {
        by_hand.part(part): [replace(m, old=by_hand.feature(part, m.old)) for m in found]
        for part, found in told.items()
    }


def _questions(told: dict[str, list[Match]], changes: list[Change]) -> list[str]:
    out = []
    for part, found in told.items():
        for m in found:
            if m.how == "doubtful":
                out.append(f"{part}.{m.old} is gone, and {m.new} could be it or another: which is it?")
    for part, found in told.items():
        for m in found:
            if m.how == "moved" and m.moved > 1e-6:
                out.append(f"{part}.{m.old} was taken as moved by {1e3 * m.moved:.4g} mm: is it the same?")
            elif m.how == "resized":
                out.append(f"{part}.{m.old} has another size: is it the same, and does its fit still hold?")
    for c in changes:
        if c.what == "add" and len(c.path) == 2:
            out.append(f"{c.path[0]}.{c.path[1]} is new: see its guesses, fits and torque")
        if c.what == "remove" and len(c.path) == 2:
            out.append(f"{c.path[0]}.{c.path[1]} is no longer drawn and was taken out")
    return out


def _again(
    home: Path, meshes: dict[str, bytes], changes: list[Change], mine: Tree, drawn: Tree
) -> tuple[str, ...]:
    """Mates that a change touches: their own keys, the features of their pairs, the shape of their parts."""
    reshaped = {
        n for n, data in meshes.items() if not (home / n).is_file() or (home / n).read_bytes() != data
    }
    parts = {
        name
        for name, part in drawn["parts"].items()
        if any(str(s.get("mesh")) in reshaped for s in part.get("solids", []))
    }
    parts |= {c.path[1] for c in changes if c.path[0] == "parts"}
    mates = {c.path[1] for c in changes if c.path[0] == "mates" and c.what != "remove"}
    for name, mate in {**(mine.get("mates") or {}), **drawn["mates"]}.items():
        involved = {str(mate.get("part")), *(str(p["fixed"]).split(".")[0] for p in mate.get("pairs", []))}
        if involved & parts:
            mates.add(name)
    return tuple(sorted(mates))


def _cell(home: Path, guessed: Guessed, mine: Tree, drawn: Tree, called: dict[str, str]) -> dict[str, bytes]:
    """cell.yaml anew where nobody has edited it; else with a place for each new part, and none for parts
    that are gone."""
    path, last = home / "cell.yaml", home / LAST_CELL
    if not path.is_file():
        return {}
    text = path.read_text(encoding="utf-8")
    if last.is_file() and last.read_text(encoding="utf-8") == text:
        cell = cell_of(_called(guessed, called), up_of(guessed))
        anew = (pointer("cell", "schema") + cell.text).encode()
        blocks = {f"meshes/{name}.stl": data for name, data in cell.meshes.items()}
        return {**blocks, "cell.yaml": anew, LAST_CELL: anew}
    for gone in set(mine["parts"]) - set(drawn["parts"]):
        text = re.sub(rf",\s*holds:\s*{re.escape(gone)}(?=[,}}\s])", "", text)
    by_name = {new: old for old, new in called.items()}
    added = [n for n in drawn["parts"] if n not in mine["parts"] and n in by_name]
    if added:
        places = lying(guessed, up_of(guessed))
        lines = [extra_place(n, places[by_name[n]], k) for k, n in enumerate(added) if by_name[n] in places]
        text = re.sub(r"(?m)^holders:\n", lambda m: m[0] + "".join(lines), text, count=1)
    return {"cell.yaml": text.encode()}


def _called(guessed: Guessed, called: dict[str, str]) -> Guessed:
    """The same with its parts under the names that the project has for them."""
    parts = tuple(replace(p, placed=replace(p.placed, name=called[p.name])) for p in guessed.parts)
    mates = tuple(replace(m, mate=_mate_called(m.mate, called)) for m in guessed.mates)
    groups = tuple(replace(g, base=called[g.base]) for g in guessed.groups)
    return replace(guessed, base=called[guessed.base], parts=parts, mates=mates, groups=groups)


def _mate_called(mate: Mate, called: dict[str, str]) -> Mate:
    pairs = tuple(replace(p, fixed_part=called[p.fixed_part]) for p in mate.pairs)
    clamps = tuple(called[c] for c in mate.clamps)
    return replace(mate, part=called[mate.part], into=called[mate.into], pairs=pairs, clamps=clamps)


def _write(
    home: Path, before: str, text: str, cell: dict[str, bytes], meshes: dict[str, bytes], drawn: Tree
) -> None:
    files = {
        BEFORE: before.encode(),
        LAST_READ: yaml.safe_dump(drawn, sort_keys=False, allow_unicode=True).encode(),
        "product.yaml": text.encode(),
    }
    partial = {home / name: (home / name).with_suffix(".partial") for name in {**meshes, **cell, **files}}
    try:
        for name, data in {**meshes, **cell, **files}.items():
            (home / name).parent.mkdir(parents=True, exist_ok=True)
            partial[home / name].write_bytes(data)
    except BaseException:
        for path in partial.values():
            path.unlink(missing_ok=True)
        raise
    for path, written in partial.items():
        os.replace(written, path)
