"""What a rule looks at, and what a rule is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal

from handfast.files.nearest import listed, nearest
from handfast.files.position import Path, SourceMap
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.model.mate import FeaturePair, Mate
from handfast.model.part import Part
from handfast.model.project import Project
from handfast.model.tool import Tool


@dataclass(frozen=True, slots=True)
class Case:
    """A project under examination.

    sources: where its values were written; broken: names that were written, but whose content could not
    be read, so that a reference to them is no mistake of its own.
    """

    project: Project
    sources: SourceMap = field(default_factory=SourceMap)
    broken: frozenset[Path] = frozenset()

    def finding(
        self,
        rule: str,
        path: Path,
        expected: str,
        found: str,
        fix: str = "",
        severity: Literal["error", "warning"] = "error",
    ) -> Finding:
        """A finding at the place where that value was written."""
        at, where = self.sources.at(*path), ".".join(path[1:])
        return Finding(rule, severity, at.file, at.line, at.column, where, expected, found, fix)

    def unknown(
        self, path: Path, name: str, what: str, known: Iterable[str], *among: Path
    ) -> Iterator[Finding]:
        """A finding if `name` is not one of the known names. among: where those things stand in the files."""
        names = tuple(known)
        if name not in names and not any((*group, name) in self.broken for group in among):
            expected = f"the name of {what}: {listed(names)}"
            yield self.finding("unknown-name", path, expected, repr(name), nearest(name, names))

    def part(self, name: str) -> Part | None:
        """The part of that name, if it could be read."""
        return next((p for p in self.project.product.parts if p.name == name), None)

    def feature(self, part: str, name: str) -> Feature | None:
        """That feature, if it could be read."""
        owner = self.part(part)
        return next((f for f in owner.features if f.name == name), None) if owner is not None else None

    def pairs(self, mate: Mate) -> Iterator[tuple[Path, FeaturePair, Feature, Feature]]:
        """The pairs of a mate whose two features could be read: path, pair, moving and fixed feature."""
        for i, pair in enumerate(mate.pairs):
            moving, fixed = self.feature(mate.part, pair.moving), self.feature(pair.fixed_part, pair.fixed)
            if moving is not None and fixed is not None:
                yield ("product", "mates", mate.name, "pairs", str(i)), pair, moving, fixed

    def items(self) -> Iterator[tuple[Path, Part | Tool]]:
        """Everything a hand may take up, with its place in the files."""
        for part in self.project.product.parts:
            yield ("product", "parts", part.name), part
        for tool in self.project.cell.tools:
            yield ("cell", "tools", tool.name), tool


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: its stable name, what it asks for and why, and the examination (None: made by another)."""

    name: str
    describe: str
    examine: Callable[[Case], Iterable[Finding]] | None = None
