"""A project that keeps every rule."""

from __future__ import annotations

from dataclasses import InitVar, dataclass

from handfast.model.finding import Finding
from handfast.model.project import Project

_SEAL = object()


@dataclass(frozen=True, slots=True)
class CheckedProject:
    """A certificate: this project keeps every rule. Only `checking.check` makes one; planners want one.

    notes: what does not stop the work but must be said: warnings, values assumed because nobody knew them.
    Raises TypeError when made by anyone else.
    """

    project: Project
    notes: tuple[Finding, ...]
    seal: InitVar[object] = None

    def __post_init__(self, seal: object) -> None:
        if seal is not _SEAL:
            raise TypeError("a CheckedProject is made by handfast.checking.check only: pass it the project")


def certify(project: Project, notes: tuple[Finding, ...]) -> CheckedProject:
    """For `checking.check` alone."""
    return CheckedProject(project, notes, _SEAL)
