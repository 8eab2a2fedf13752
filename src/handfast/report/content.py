"""What a report says, before it is set in HTML or on paper: sections of words, tables and pictures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from handfast.model.finding import Finding
from handfast.page.page_input import PageInput

Row = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReportInput:
    """page: the chart and what belongs to it; notes: what the check assumed or doubts."""

    page: PageInput
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph. kind: "doubt" for what somebody must look at, "small" for notes."""

    text: str
    kind: Literal["plain", "doubt", "small"] = "plain"


@dataclass(frozen=True, slots=True)
class Table:
    """kind: its name (also of the CSV file); head: with units; rows: as many cells each; widths: shares of
    the paper's width."""

    kind: str
    head: Row
    rows: tuple[Row, ...]
    widths: tuple[float, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Picture:
    """A PNG of width by height pixels, with names at points of it (in pixels)."""

    png: bytes
    width: int
    height: int
    labels: tuple[tuple[str, float, float], ...]
    caption: str


Block = Words | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """anchor: its address in the HTML file."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]


def filled(kind: str, columns: tuple[tuple[str, float], ...], rows: list[Row], empty: str) -> Block:
    """A table of (head, share of the width), or words that say why there is none."""
    if not rows:
        return Words(empty)
    heads, widths = zip(*columns, strict=True)
    return Table(kind, heads, tuple(rows), widths)
