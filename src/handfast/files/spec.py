"""What may stand where in a project file: the words in which the schema is written.

A spec is data: the loader reads by it, messages quote it, and a JSON Schema is made from it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

Sign = Literal["any", "not negative", "positive"]
Values = Mapping[str, Any]
Make = Callable[[str, Values], Any]
"""Makes the record from its name ("" where it has none) and the values read. Raises DisagreementError."""


class DisagreementError(ValueError):
    """Values that are fine each by itself but not together. key: the one to point at."""

    def __init__(self, key: str, expected: str, found: str, fix: str = "") -> None:
        super().__init__(f"{key}: expected {expected}, found {found}")
        self.key, self.expected, self.found, self.fix = key, expected, found, fix


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit. dimension: a row of the unit table."""

    dimension: str
    sign: Sign = "any"
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Number:
    """A bare number."""

    sign: Sign = "any"
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Word:
    """A name or other text. what: for messages."""

    what: str


@dataclass(frozen=True, slots=True)
class FeatureName:
    """PART.FEATURE, read as a pair."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of some words."""

    options: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Flag:
    """true or false."""


@dataclass(frozen=True, slots=True)
class Direction:
    """+x, -x, ... or three numbers; read as a unit vector."""


@dataclass(frozen=True, slots=True)
class FilePath:
    """A file inside the project folder, read as its path relative to it. packages: it may also be
    package:NAME/path, a file of an installed package."""

    what: str
    endings: tuple[str, ...]
    packages: bool = False


@dataclass(frozen=True, slots=True)
class Repeated:
    """A list whose items are alike; length: if it is fixed."""

    item: Spec
    length: int | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A list with one spec for each item. unknown: the word `unknown` may stand for it (read as None)."""

    items: tuple[Spec, ...]
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class Named:
    """Names with what they name, read as a tuple of records.

    They stand in the order of the file if that order means something, otherwise by name, so that equal
    content gives equal records.
    """

    item: Fields
    ordered: bool = False


@dataclass(frozen=True, slots=True)
class Field:
    """One key."""

    name: str
    spec: Spec
    required: bool = False
    help: str = ""


@dataclass(frozen=True, slots=True)
class Fields:
    """Keys with values. what: for messages; one_of: exactly one of these keys must be there."""

    what: str
    fields: tuple[Field, ...]
    make: Make
    one_of: tuple[str, ...] = ()


Spec = (
    Quantity
    | Number
    | Word
    | FeatureName
    | Choice
    | Flag
    | Direction
    | FilePath
    | Repeated
    | Row
    | Named
    | Fields
)
