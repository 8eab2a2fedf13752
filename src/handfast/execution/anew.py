"""Planning anew while a run goes on: asked of whoever started the run, since an executor does not plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from handfast.model.chart import Chart

Stands = Mapping[str, tuple[float, ...]]
"""Where each arm stands (n,) [rad]."""


class NoWayAnewError(Exception):
    """There is no way, or none that the proof certifies; the message says why."""


@dataclass(frozen=True, slots=True)
class Anew:
    """chart: whole, elements before number `first` done; q: where each arm stands by then (n,) [rad]."""

    chart: Chart
    first: int
    q: Stands


class Planner(Protocol):
    """Everything it gives is planned and proven before it is given. Arms stand at q (n,) [rad], their jaws
    at widths [m]."""

    def rejected(
        self,
        chart: Chart,
        number: int,
        place: str,
        q: Stands,
        widths: Mapping[str, float],
    ) -> Anew:
        """What the hand of element `number` holds is led over the place "HOLDER.PLACE" and let go. Raises
        NoWayAnewError."""
        ...

    def again(self, chart: Chart, number: int, q: Stands, widths: Mapping[str, float]) -> Anew:
        """From there on with element `number`, everything before it done. Raises NoWayAnewError."""
        ...
