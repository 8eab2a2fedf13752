"""Errors learned from logs, proposed to the engineer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SourceProposal:
    """Declared against observed for one source and freedom (-1: of a sum, or of what has none). declared,
    observed: sigma [m or rad; of sensors as their row says]; interval: 95 % of the observed one; count: of
    observations; refuted: the declared value lies outside."""

    source: str
    freedom: int
    declared: float
    observed: float
    interval: tuple[float, float]
    count: int
    refuted: bool
    text: str = ""


@dataclass(frozen=True, slots=True)
class SourceProposals:
    """All comparisons that some logs allow. logs: how many; not_measured: what nothing here tells, in words;
    mates: to check again if what is refuted is changed."""

    logs: int
    rows: tuple[SourceProposal, ...]
    not_measured: tuple[str, ...] = ()
    mates: tuple[str, ...] = ()
