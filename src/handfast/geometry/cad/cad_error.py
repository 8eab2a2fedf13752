"""The error of CAD files that cannot be used."""

from __future__ import annotations


class CadError(ValueError):
    """A CAD file that cannot be used: the message says the place, what was expected, found, and the fix."""
