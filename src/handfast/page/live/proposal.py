"""A change of a project file as a difference, shown first and written only when accepted."""

from __future__ import annotations

import difflib
import hashlib
import math
import re
from dataclasses import dataclass
from pathlib import Path

from handfast.files.inside import inside
from handfast.files.position import Position, SourceMap
from handfast.model.change import Change
from handfast.model.project import Project

_SCALAR = re.compile(r"[^,\]}#\n]*[^,\]}#\s]")


class ProposalError(ValueError):
    """A change that cannot be written for the engineer; the message says what to do instead."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """file: relative to the project folder; before, after: its whole text; text: what it does, in words."""

    file: str
    before: str
    after: str
    text: str

    @property
    def id(self) -> str:
        """Stands for exactly this change of exactly this file."""
        return hashlib.sha256(f"{self.file}\0{self.before}\0{self.after}".encode()).hexdigest()[:16]

    @property
    def diff(self) -> str:
        """The difference, unified, two lines around it."""
        lines = difflib.unified_diff(
            self.before.splitlines(),
            self.after.splitlines(),
            self.file,
            f"{self.file}, proposed",
            n=2,
            lineterm="",
        )
        return "\n".join(lines)


def propose(folder: Path, project: Project, sources: SourceMap, change: Change) -> Proposal:
    """The change as text. Raises ProposalError."""
    edits = _edits(project, sources, change)
    files = {place.file for place, _ in edits}
    if len(files) != 1:
        raise ProposalError(
            f"{change.text}: expected one place in one file, found {len(files)}; write it by hand"
        )
    file = files.pop()
    path = inside(folder, file)
    if path is None or not path.is_file():
        raise ProposalError(f"{file}: expected a file inside the project folder")
    before = path.read_bytes().decode("utf-8")
    after = before
    for place, value in sorted(edits, key=lambda e: (e[0].line, e[0].column), reverse=True):
        after = _written(after, place, value)
    if after == before:
        raise ProposalError("expected a change, found what is written already")
    return Proposal(file, before, after, _text(change, sources, edits))


def accept(folder: Path, proposal: Proposal) -> None:
    """Write it. Raises ProposalError if the file is no longer what the difference was made from."""
    path = inside(folder, proposal.file)
    if path is None or not path.is_file() or path.read_bytes().decode("utf-8", "replace") != proposal.before:
        raise ProposalError(f"{proposal.file}: changed since the difference was made; propose it again")
    beside = path.with_name(f".{path.name}.part")
    beside.write_bytes(proposal.after.encode("utf-8"))
    beside.replace(path)


def _edits(project: Project, sources: SourceMap, change: Change) -> list[tuple[Position, str]]:
    """Places of values, and what is to stand there."""
    if not all(math.isfinite(v) and abs(v) < 100 for v in change.value):
        raise ProposalError("expected lengths below 100 m")
    if change.kind == "move holder":
        holder = next((o for o in project.cell.holders if o.name == change.target), None)
        if holder is None:
            names = ", ".join(o.name for o in project.cell.holders)
            raise ProposalError(f"expected a holder, one of {names}; found {change.target!r}")
        path = ("cell", "holders", holder.name, "at", "position")
        old = holder.pose.position
        return [
            (_exactly(sources, (*path, str(i))), _mm(old[i] + by))
            for i, by in enumerate(change.value[:3])
            if by
        ]
    if change.kind == "widen jaws":
        grippers = [g for g in project.cell.grippers if change.target in (g.name, "every gripper")]
        if not grippers:
            names = ", ".join(g.name for g in project.cell.grippers)
            raise ProposalError(f"expected a gripper, one of {names}; found {change.target!r}")
        places = {_exactly(sources, ("cell", "grippers", g.name, "opening", "1")) for g in grippers}
        return [(place, _mm(change.value[0])) for place in places]
    raise ProposalError(f"{change.text or change.kind}: it touches several values; write it by hand")


def _exactly(sources: SourceMap, path: tuple[str, ...]) -> Position:
    place = sources.places.get(path)
    if place is None or not place.line:
        raise ProposalError(
            f"{'.'.join(path)}: expected it written out, found that it is left out; write it by hand"
        )
    return place


def _written(text: str, place: Position, value: str) -> str:
    """The text with another value at that place."""
    lines = text.split("\n")
    line = lines[place.line - 1]
    found = _SCALAR.match(line, place.column - 1)
    if found is None:
        raise ProposalError(f"{place.file}:{place.line}: expected a value on this line; write it by hand")
    lines[place.line - 1] = line[: found.start()] + value + line[found.end() :]
    return "\n".join(lines)


def _text(change: Change, sources: SourceMap, edits: list[tuple[Position, str]]) -> str:
    """In words; and whom else it concerns where a value is written once for several."""
    touched = {place for place, _ in edits}
    others = sorted(
        {p[2] for p, place in sources.places.items() if place in touched and len(p) > 2} - {change.target}
    )
    words = change.text or f"{change.target}: {change.kind}"
    return f"{words}; written once for {', '.join(others)} too, which change with it" if others else words


def _mm(metres: float) -> str:
    return f"{round(metres * 1e3, 4):g} mm"
