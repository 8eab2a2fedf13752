"""The error sources of a project, checked and ready for error forms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

import numpy as np

from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.spatial.se3 import Array
from handfast.uncertainty.drawn_sources import slack_sources, tolerance_sources
from handfast.uncertainty.edges import edges
from handfast.uncertainty.error_form import Form
from handfast.uncertainty.instances import Draws, Instance
from handfast.uncertainty.play import play_sources
from handfast.uncertainty.refusal import SourceError
from handfast.uncertainty.truncated import TruncatedNormal, truncated_moments
from handfast.uncertainty.turn_play import turn_sources


@dataclass(frozen=True, eq=False, slots=True)
class Sources:
    """by_edge: the sources that act on each edge; by_name; squared: variances (6,) of each, distribution
    taken in; draws: what forms of these sources are told in.
    """

    by_edge: Mapping[str, tuple[ErrorSource, ...]]
    by_name: Mapping[str, ErrorSource]
    squared: Mapping[str, Array]
    draws: Draws = field(default_factory=Draws)

    def variances(self, instance: Instance) -> Array:
        """Variances (6,) of one instance of a source."""
        return self.squared[instance.source]

    def form(self, edge: str, element: str, place: str) -> Form:
        """The deviation of one edge, twist in the frame that `acts_on` names.

        element: in which a source that changes per cycle is drawn; place: what the ledger shows as the
        place of entry.
        """
        acting = self.by_edge.get(edge, ())
        return Form.weighted(self.draws, [(instance_of(s, element), 1.0) for s in acting], place)

    def per_installation(self, instance: Instance) -> bool:
        """True for what stays the same until the cell is set up anew or recalibrated."""
        return self.by_name[instance.source].changes == "installation"

    def for_walk(self) -> Sources:
        """The same with draws of their own: those of another chart are of no use here."""
        return replace(self, draws=Draws())

    def halved(self, name: str) -> Sources:
        """The same with one source half as large."""
        return Sources(self.by_edge, self.by_name, {**self.squared, name: self.squared[name] / 4})


def instance_of(source: ErrorSource, element: str) -> Instance:
    """The draw of a source in an element."""
    return Instance(source.name, element if source.changes == "cycle" else "")


def sources_of(project: Project) -> Sources:
    """The sources of a project, the slack and tolerances its drawings speak of, and the play of its fits.

    Raises SourceError for one that cannot be used.
    """
    known = edges(project)
    for index, source in enumerate(project.errors):
        _check(source, known, [s.name for s in project.errors[:index]])
    listed = (
        *project.errors,
        *slack_sources(project.cell, project.errors),
        *tolerance_sources(project.product, project.errors),
        *play_sources(project.product),
        *turn_sources(project.product),
    )
    by_edge: dict[str, tuple[ErrorSource, ...]] = {}
    for source in listed:
        by_edge[source.acts_on] = (*by_edge.get(source.acts_on, ()), source)
    return Sources(by_edge, {s.name: s for s in listed}, {s.name: variances_of(s) for s in listed})


def variances_of(source: ErrorSource) -> Array:
    """Variances (6,) of a source: what truncation cuts off is taken away; a uniform source states its sigma
    already.
    """
    squared = np.array(source.sigma) ** 2
    if source.distribution != "truncated":
        return squared
    cut = TruncatedNormal(0.0, 1.0, -source.truncation, source.truncation)
    return squared * truncated_moments(cut)[1] ** 2


def _check(source: ErrorSource, known: tuple[str, ...], names: list[str]) -> None:
    place = f"error source {source.name!r}"
    if source.name in names:
        raise SourceError(place, "one source of each name", "two", "rename one of them")
    if source.acts_on not in known:
        near = get_close_matches(source.acts_on, known, n=3, cutoff=0.0)
        raise SourceError(
            f"{place}, acts_on", f"an edge of this cell, such as {', '.join(near)}", repr(source.acts_on)
        )
    for freedom, sigma in zip(("x", "y", "z", "rx", "ry", "rz"), source.sigma, strict=True):
        if not (np.isfinite(sigma) and sigma >= 0):
            raise SourceError(f"{place}, sigma of {freedom}", "a finite value of zero or more", f"{sigma:g}")
    _check_angles(source, place)
    if source.distribution == "truncated" and not source.truncation > 0:
        raise SourceError(f"{place}, truncation", "limits above zero, in sigma", f"{source.truncation:g}")
    if source.correlation_length != 0 and not _may_correlate(source):
        raise SourceError(
            f"{place}, correlation_length", "zero, or an arm's tip that keeps its error", source.acts_on,
            "a field belongs to an arm's tip and does not change per cycle",
        )  # fmt: skip


def _check_angles(source: ErrorSource, place: str) -> None:
    # No spread of a rigid part reaches half a turn: such a number was meant in degrees or is a length.
    if source.gives != any(source.compliance):
        expected = "a compliance" if source.gives else "none: only a flange and fingers give under load"
        raise SourceError(f"{place}, compliance", expected, str(source.compliance))
    worst = max(source.sigma[3:])
    if source.acts_on.startswith("touch.") and any(source.sigma[1:]):
        raise SourceError(
            f"{place}, sigma", "a touch to err along its direction only, the first freedom", "others"
        )
    if worst > 1.0:
        raise SourceError(
            f"{place}, sigma of a rotation", "under 1 rad", f"{worst:g} rad", "degrees as radians?"
        )


def _may_correlate(source: ErrorSource) -> bool:
    is_tip = source.acts_on.startswith("arm.") and source.acts_on.endswith(".tip")
    return source.correlation_length > 0 and is_tip and source.changes != "cycle"
