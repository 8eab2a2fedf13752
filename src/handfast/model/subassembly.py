"""A sub-assembly: parts that are built into one another apart, then carried and mated as one body."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Subassembly:
    """base: the part that the others are built on, in the place where it lies at the start; mates: names of
    those that are done there. The mate that brings the base home joins the whole: it comes after them."""

    name: str
    base: str
    mates: tuple[str, ...]
