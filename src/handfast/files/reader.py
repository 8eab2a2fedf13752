"""Reads a tree by its spec: values in SI, records made, every mistake found with its place."""

from __future__ import annotations

import math
import re
from pathlib import Path as FilePathOnDisk
from typing import Any, Final

from handfast.files.expected_words import example, expected
from handfast.files.inside import inside
from handfast.files.nearest import listed, nearest
from handfast.files.position import Path, Position
from handfast.files.report import Report
from handfast.files.spec import (
    Choice,
    Direction,
    DisagreementError,
    FeatureName,
    Field,
    Fields,
    FilePath,
    Flag,
    Named,
    Number,
    Quantity,
    Repeated,
    Row,
    Spec,
)
from handfast.files.yaml_tree import Entry, Listing, Mapping, Scalar
from handfast.model.package_file import NotInstalledError, is_package_path, package_file
from handfast.spatial import units

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
DIRECTIONS = tuple(sign + axis for axis in _AXES for sign in "+-")


class Broken:
    """Stands for a value that could not be read; it has been reported."""


BROKEN: Final = Broken()


class Reader:
    """One reading of one project folder.

    places: where each value stands; broken: named things left out because of a mistake inside them;
    files: what files are named, and where.
    """

    def __init__(self, folder: FilePathOnDisk, report: Report) -> None:
        self.folder = folder
        self.report = report
        self.places: dict[Path, Position] = {}
        self.broken: set[Path] = set()
        self.files: dict[Path, str] = {}

    def read(self, spec: Spec, entry: Entry, path: Path, place: Position | None = None) -> Any:
        """The value of an entry, or BROKEN. place: of its key."""
        self.places[path] = entry.place if isinstance(entry, Scalar) or place is None else place
        if isinstance(spec, Fields):
            return self._fields(spec, entry, path, path[-1])
        if isinstance(spec, Named):
            return self._named(spec, entry, path)
        if isinstance(spec, Repeated | Row):
            return self._list(spec, entry, path)
        if isinstance(spec, Direction):
            return self._direction(entry, path)
        if not isinstance(entry, Scalar):
            return self._wrong(entry, path, expected(spec), _kind(entry))
        return self._scalar(spec, entry, path)

    # -------------------- mappings

    def _fields(self, spec: Fields, entry: Entry, path: Path, name: str) -> Any:
        if not isinstance(entry, Mapping):
            return self._wrong(entry, path, expected(spec), _kind(entry))
        known = {f.name: f for f in spec.fields}
        self._unknown_keys(spec, entry, path, known)
        values = {
            key: self.read(known[key].spec, value, (*path, key), entry.keys[key])
            for key, value in entry.entries.items()
            if key in known
        }
        complete = self._complete(spec, values, path)
        if not complete or any(v is BROKEN for v in values.values()):
            return BROKEN
        try:
            return spec.make(name, values)
        except DisagreementError as mistake:
            at = self.places.get((*path, mistake.key), self.places[path])
            where = (*path, mistake.key)
            self.report.error("values-disagree", at, where, mistake.expected, mistake.found, mistake.fix)
            return BROKEN

    def _unknown_keys(self, spec: Fields, entry: Mapping, path: Path, known: dict[str, Field]) -> None:
        for key in entry.entries:
            if key not in known:
                expect = f"in {spec.what} one of: {listed(known)}"
                fix = nearest(key, known)
                self.report.error("unknown-key", entry.keys[key], (*path, key), expect, repr(key), fix)

    def _complete(self, spec: Fields, values: dict[str, Any], path: Path) -> bool:
        lacks = [f for f in spec.fields if f.required and f.name not in values]
        for field in lacks:
            expect = f"{field.name}: {expected(field.spec)}"
            fix = f"add `{field.name}: {example(field.spec)}`"
            self.report.error("missing-key", self.places[path], path, expect, f"{spec.what} without it", fix)
        given = [key for key in spec.one_of if key in values]
        if spec.one_of and len(given) != 1:
            expect = f"exactly one of: {listed(spec.one_of)}"
            self.report.error("missing-key", self.places[path], path, expect, listed(given))
            return False
        return not lacks

    def _named(self, spec: Named, entry: Entry, path: Path) -> Any:
        if not isinstance(entry, Mapping):
            return self._wrong(entry, path, f"names, each with {spec.item.what}", _kind(entry))
        found: dict[str, Any] = {}
        for name, value in entry.entries.items():
            item = self.read(spec.item, value, (*path, name), entry.keys[name])
            if item is BROKEN:
                self.broken.add((*path, name))
            else:
                found[name] = item
        return tuple(found[name] for name in (found if spec.ordered else sorted(found)))

    # -------------------- lists

    def _list(self, spec: Repeated | Row, entry: Entry, path: Path) -> Any:
        if isinstance(spec, Row) and spec.unknown and isinstance(entry, Scalar) and entry.text == "unknown":
            return None
        if not isinstance(entry, Listing):
            return self._wrong(entry, path, expected(spec), _kind(entry))
        length = len(spec.items) if isinstance(spec, Row) else spec.length
        if length is not None and len(entry.items) != length:
            return self._wrong(entry, path, expected(spec), f"{len(entry.items)} values")
        specs = spec.items if isinstance(spec, Row) else (spec.item,) * len(entry.items)
        pairs = enumerate(zip(specs, entry.items, strict=True))
        values = tuple(self.read(s, e, (*path, str(i)), e.place) for i, (s, e) in pairs)
        return BROKEN if any(v is BROKEN for v in values) else values

    def _direction(self, entry: Entry, path: Path) -> Any:
        wanted = f"a direction: one of {', '.join(DIRECTIONS)}, or three numbers"
        if isinstance(entry, Scalar):
            sign, axis = (entry.text[:1], entry.text[1:]) if entry.text[:1] in "+-" else ("+", entry.text)
            if axis not in _AXES:
                return self._wrong(entry, path, wanted, repr(entry.text))
            return tuple(v * (-1.0 if sign == "-" else 1.0) for v in _AXES[axis])
        vector = self.read(Repeated(Number(), 3), entry, path)
        if vector is BROKEN:
            return BROKEN
        length = math.hypot(*vector)
        if not 1e-9 < length < 1e9:
            return self._wrong(entry, path, wanted, "a vector of no usable length")
        return tuple(v / length for v in vector)

    # -------------------- scalars

    def _scalar(self, spec: Spec, entry: Scalar, path: Path) -> Any:
        text = entry.text
        if isinstance(spec, Quantity):
            return self._quantity(spec, entry, path)
        if isinstance(spec, Number):
            return self._number(spec, entry, path)
        if isinstance(spec, Choice) and text not in spec.options:
            fix = nearest(text, spec.options)
            return self._wrong(entry, path, expected(spec), repr(text), "choice", fix)
        if isinstance(spec, Flag):
            return text == "true" if text in ("true", "false") else self._mismatch(spec, entry, path)
        if isinstance(spec, FeatureName):
            part, dot, feature = text.partition(".")
            return (part, feature) if part and dot and feature else self._mismatch(spec, entry, path)
        if isinstance(spec, FilePath):
            return self._file(spec, entry, path)
        return text if text else self._wrong(entry, path, expected(spec), "nothing")

    def _quantity(self, spec: Quantity, entry: Scalar, path: Path) -> Any:
        try:
            value = units.parse(entry.text, spec.dimension)
        except units.UnitError as error:
            _, _, message = str(error).partition("expected ")
            wanted, _, found = message.partition(", found ")
            return self._wrong(entry, path, wanted, found or repr(entry.text), "unit")
        return self._in_range(spec, value, entry, path)

    def _number(self, spec: Number, entry: Scalar, path: Path) -> Any:
        if not _NUMBER.fullmatch(entry.text) or not math.isfinite(float(entry.text)):
            return self._mismatch(spec, entry, path)
        value = float(entry.text)
        if spec.whole and value != int(value):
            return self._mismatch(spec, entry, path)
        return self._in_range(spec, int(value) if spec.whole else value, entry, path)

    def _in_range(self, spec: Quantity | Number, value: float, entry: Scalar, path: Path) -> Any:
        most = spec.most if isinstance(spec, Quantity) else None
        low = (spec.sign == "positive" and value <= 0) or (spec.sign == "not negative" and value < 0)
        if low or (most is not None and value > most):
            return self._wrong(entry, path, expected(spec), repr(entry.text), "range")
        return value

    def _file(self, spec: FilePath, entry: Scalar, path: Path) -> Any:
        if not entry.text.lower().endswith(spec.endings):
            return self._mismatch(spec, entry, path)
        if spec.packages and is_package_path(entry.text):
            return self._packaged(spec, entry, path)
        target = inside(self.folder, entry.text)
        if target is None:
            fix = "copy the file into the project folder"
            wanted = f"{spec.what} inside the project folder"
            return self._wrong(entry, path, wanted, repr(entry.text), "path-leaves-folder", fix)
        if not target.is_file():
            return self._wrong(
                entry, path, f"{spec.what} in the project folder", f"no file {entry.text!r}", "file-missing"
            )
        self.files[path] = entry.text
        return entry.text

    def _packaged(self, spec: FilePath, entry: Scalar, path: Path) -> Any:
        try:
            package_file(entry.text).locate()
        except NotInstalledError as error:
            _, _, message = str(error).partition("expected ")
            wanted, _, found = message.partition(", found ")
            return self._wrong(entry, path, wanted, found or repr(entry.text), "package-file")
        self.files[path] = entry.text
        return entry.text

    def _mismatch(self, spec: Spec, entry: Scalar, path: Path) -> Broken:
        return self._wrong(entry, path, expected(spec), repr(entry.text) if entry.text else "nothing")

    def _wrong(
        self, entry: Entry, path: Path, wanted: str, found: str, rule: str = "wrong-value", fix: str = ""
    ) -> Broken:
        self.report.error(rule, entry.place, path, wanted, found, fix)
        return BROKEN


def _kind(entry: Entry) -> str:
    if isinstance(entry, Scalar):
        return repr(entry.text) if entry.text else "nothing"
    return "a list" if isinstance(entry, Listing) else "keys with values"
