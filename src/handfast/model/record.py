"""A saved record: what it is, what it was made from, and its body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from handfast.model.project import InputFile

B = TypeVar("B")


@dataclass(frozen=True, slots=True)
class Record(Generic[B]):
    """kind: "chart", "proof", "ledger", "trial-report", "run-log"; schema: counts up when the body's fields
    change.

    inputs: what it was made from (files, other records) with their sha256; seed: of every random draw in it.
    The sha256 of a record covers all of these in canonical JSON; measured times are not part of it.
    """

    kind: str
    schema: int
    tool_version: str
    inputs: tuple[InputFile, ...]
    seed: int
    body: B
