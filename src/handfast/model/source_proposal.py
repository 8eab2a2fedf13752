"""Errors learned from logs, proposed to the engineer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SourceProposal:
    """Declared against observed for one source and freedom. declared, observed: sigma [m or rad];
    interval: 95 % of the observed one; count: of observations; refuted: the declared value lies outside."""

    source: str
    freedom: int
    declared: float
    observed: float
    interval: tuple[float, float]
    count: int
    refuted: bool
    text: str = ""
