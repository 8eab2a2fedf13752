"""The project: what the user wrote, read into records."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast.model.cell import Cell
from handfast.model.economy import Economy
from handfast.model.error_source import ErrorSource
from handfast.model.product import Product


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file the project was read from. path: relative to the project folder; sha256 of its canonical
    content."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Project:
    """A project as read. folder: absolute path, never part of a hash; inputs: the files it came from."""

    name: str
    folder: str
    product: Product
    cell: Cell
    errors: tuple[ErrorSource, ...]
    inputs: tuple[InputFile, ...]
    target: float = 0.995
    clearance: float = 0.005
    economy: Economy = field(default_factory=Economy)
