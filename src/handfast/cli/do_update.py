"""handfast update."""

from __future__ import annotations

from typing import Any

from handfast.cli.exit_codes import NO, STOPPED, YES, UnusableError
from handfast.cli.open_project import must_be_folder
from handfast.cli.screen import complain, progress, say, say_json
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.read_cad import Limits
from handfast.workflow.from_cad.edit_yaml import flow
from handfast.workflow.from_cad.merge import Change, Conflict
from handfast.workflow.update_from_cad import BEFORE, Updated, UpdateError, update_from_cad


def do_update(folder: str, source: str, limits: Limits, as_json: bool) -> int:
    """Merge, and tell what was done. Yes: all of it could be merged; no: there are conflicts to settle."""
    must_be_folder(folder)
    try:
        with progress("reading", every=10) as tell:
            updated = update_from_cad(folder, source, limits, tell)
    except (CadError, UpdateError) as error:
        raise UnusableError(str(error)) from error
    except KeyboardInterrupt:
        complain(f"stopped: {folder} is as it was")
        return STOPPED
    except OSError as error:
        raise UnusableError(f"{folder}: cannot be written: {error.strerror}") from error
    if as_json:
        say_json("update", _record(updated))
    else:
        for line in update_lines(updated):
            say(line)
    return NO if updated.conflicts or updated.refused else YES


def update_lines(updated: Updated) -> list[str]:
    """Conflicts first, then questions, then what was changed and what to do again."""
    lines = [line for c in updated.conflicts for line in _conflict(c)]
    lines += [f"by hand: {_change(c)}; it is written by reference there" for c in updated.refused]
    lines += [f"? {q}" for q in updated.questions]
    lines += [_change(c) for c in updated.changes if c not in updated.refused]
    if not updated.changes and not updated.conflicts:
        lines.append("nothing that the project uses has changed in the drawing")
    if updated.again:
        lines.append(f"check, plan, verify and budget again: {', '.join(updated.again)}")
    if updated.changes:
        lines.append(f"product.yaml as it was: {BEFORE}")
    return lines


def _change(c: Change) -> str:
    place = ".".join(c.path)
    if c.what == "remove":
        return f"taken out: {place}"
    words = flow(c.value) if not isinstance(c.value, dict) or len(c.path) > 2 else "see there"
    return f"{'added' if c.what == 'add' else 'set'}: {place}: {words}"


def _conflict(c: Conflict) -> list[str]:
    now = "no longer there" if c.drawn is None else flow(c.drawn)
    mine = "taken out" if c.mine is None else flow(c.mine)
    was = "not there" if c.was is None else flow(c.was)
    return [f"conflict: {'.'.join(c.path)}: yours stays: {mine}", f"    drawn before {was}, drawn now {now}"]


def _record(u: Updated) -> dict[str, Any]:
    return {
        "conflicts": [
            {"path": list(c.path), "was": c.was, "mine": c.mine, "drawn": c.drawn} for c in u.conflicts
        ],
        "refused": [list(c.path) for c in u.refused],
        "questions": list(u.questions),
        "changes": [{"what": c.what, "path": list(c.path), "value": c.value} for c in u.changes],
        "again": list(u.again),
    }
