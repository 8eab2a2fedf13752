"""What the text of a STEP file (ISO 10303-21) shows before the CAD library touches it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from handfast.geometry.cad.cad_error import CadError

LARGEST = 200_000_000
"""Bytes. A file of this size takes minutes and gigabytes; common practice, no source."""
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_UNIT = re.compile(
    rb"LENGTH_UNIT\s*\(|CONVERSION_BASED_UNIT\s*\(\s*'(?:INCH|MILL|CENT|METRE|FOOT)", re.IGNORECASE
)
_NAMED = re.compile(rb"SI_UNIT\s*\([^)]*\.METRE\.|CONVERSION_BASED_UNIT\s*\(", re.IGNORECASE)
_SPACE = re.compile(rb"GEOMETRIC_REPRESENTATION_CONTEXT\s*\(\s*3\s*\)", re.IGNORECASE)
_SOLIDS = (b"MANIFOLD_SOLID_BREP", b"BREP_WITH_VOIDS", b"FACETED_BREP")
_SURFACES = (b"SHELL_BASED_SURFACE_MODEL", b"GEOMETRIC_CURVE_SET", b"GEOMETRIC_SET", b"TESSELLATED_")
_INCH = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'INCH", re.IGNORECASE)
_OTHERS = {
    b"solid": "an STL file",
    b"ISO-10303-28": "STEP as XML",
    b"S      1": "an IGES file",
    b"PK\x03\x04": "a zip file",
}


@dataclass(frozen=True, slots=True)
class StepText:
    """schema: the application protocol that the file names, such as AUTOMOTIVE_DESIGN; inches: whether a unit
    in it is the inch; size: bytes."""

    schema: str
    inches: bool
    size: int


def look_at_text(path: str | Path, largest: int = LARGEST) -> StepText:
    """Refuse what no CAD library can make a part of. Raises CadError.

    largest: bytes that may be read.
    """
    size = must_be_small_enough(path, largest)
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise CadError(f"{path}: expected a STEP file, cannot be read: {error.strerror}") from error
    _must_be_whole(path, data)
    _must_have_solids(path, data)
    schema = _SCHEMA.search(data)
    return StepText(
        schema[1].split()[0].decode("ascii", "replace") if schema else "", bool(_INCH.search(data)), size
    )


def must_be_small_enough(path: str | Path, largest: int) -> int:
    """Size of a file in bytes. Raises CadError if it is not there, or larger."""
    try:
        size = Path(path).stat().st_size
    except OSError as error:
        raise CadError(f"{path}: expected a CAD file, cannot be read: {error.strerror}") from error
    if size > largest:
        raise CadError(
            f"{path}: expected at most {largest / 1e6:.3g} MB, found {size / 1e6:.3g} MB; leave out what is "
            "not assembled (threads, logos, cables), or allow more with --largest"
        )
    return size


def _must_be_whole(path: str | Path, data: bytes) -> None:
    if not data.strip():
        raise CadError(f"{path}: expected a STEP file, found an empty one; export it again")
    head = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:200]
    if not head.upper().startswith(b"ISO-10303-21"):
        begun = head[:20].decode("ascii", "replace").encode("ascii", "replace").decode("ascii")
        other = next((name for mark, name in _OTHERS.items() if head.startswith(mark)), f"{begun!r}")
        raise CadError(
            f"{path}: expected a STEP file (it begins with ISO-10303-21), found {other}; export as STEP"
        )
    if b"DATA;" not in data and not re.search(rb"DATA\s*[;(]", data):
        raise CadError(f"{path}: expected a DATA section, found none; the file is cut off, export it again")
    if b"END-ISO-10303-21" not in data[-2000:].upper():
        line = data.count(b"\n") + 1
        raise CadError(
            f"{path}, line {line}: expected END-ISO-10303-21 at the end, found the end of the file; it is "
            "cut off, "
            "export or copy it again"
        )


def _must_have_solids(path: str | Path, data: bytes) -> None:
    upper = data.upper()
    if not any(word in upper for word in _SOLIDS):
        found = next(
            (w.decode().strip("_").lower().replace("_", " ") for w in _SURFACES if w in upper), "no shape"
        )
        raise CadError(
            f"{path}: expected solids, found {found} only; export solid bodies, not surfaces or sketches"
        )
    at = _without_unit(data)
    if at is not None:
        line = data.count(b"\n", 0, at) + 1
        raise CadError(
            f"{path}, line {line}: expected a length unit that the shapes are drawn in, found none: a size "
            "of 10 may be millimetres or inches; export it again with its unit"
        )


def _without_unit(data: bytes) -> int | None:
    """Where in the file a unit is missing: of a length unit, or of a space in which solids are drawn; None if
    none is."""
    if not _UNIT.search(data) or not _NAMED.search(data):
        return data.find(b"DATA")
    for space in _SPACE.finditer(data):
        begin, end = data.rfind(b";", 0, space.start()) + 1, data.find(b";", space.end())
        if b"GLOBAL_UNIT_ASSIGNED_CONTEXT" not in data[begin:end].upper():
            return space.start()
    return None
