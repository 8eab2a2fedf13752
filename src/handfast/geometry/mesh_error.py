"""What can go wrong with a mesh file."""

from __future__ import annotations


class MeshError(ValueError):
    """A mesh that cannot be read: the message says which file, what was expected and what was found."""


def refused(path: str, expected: str, found: str) -> MeshError:
    """The error, in the usual form."""
    return MeshError(f"{path}: expected {expected}, found {found}")
