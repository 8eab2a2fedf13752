"""What was recognised, each with how sure, why, and what a person has to answer."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.mates.from_cad.placed import Placed
from handfast.model.feature import Feature
from handfast.model.mate import Mate
from handfast.model.tightening import Tightening


@dataclass(frozen=True, slots=True)
class GuessedFeature:
    """feature: as it would be written; drawn: name of the feature of the drawing; end: which of its frames;
    used: whether a mate names it; sure: from 0 to 1; why; question: what the drawing does not say, one a
    line, or "";
    note: what the file states for it, or ""."""

    feature: Feature
    drawn: str
    end: int
    used: bool
    sure: float
    why: str
    question: str = ""
    note: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class GuessedPart:
    """placed; features; mass [kg]; friction; why: of mass and kind; question."""

    placed: Placed
    features: tuple[GuessedFeature, ...]
    mass: float
    friction: float
    why: str
    question: str = ""

    @property
    def name(self) -> str:
        """In the project."""
        return self.placed.name


@dataclass(frozen=True, slots=True)
class GuessedMate:
    """mate; sure; why; questions: each about one key of the mate ("" for the mate as a whole)."""

    mate: Mate
    sure: float
    why: str
    questions: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class GuessedGroup:
    """A sub-assembly that the drawing has. name; base: the part it is built on; mates: names of those done in
    it."""

    name: str
    base: str
    mates: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Guessed:
    """A whole product. base: name of the part all is built on; order: words about how it was found; notes:
    what the file left open that no single place answers; groups: built apart."""

    base: str
    parts: tuple[GuessedPart, ...]
    mates: tuple[GuessedMate, ...]
    tightenings: tuple[Tightening, ...]
    notes: tuple[str, ...]
    groups: tuple[GuessedGroup, ...] = ()
