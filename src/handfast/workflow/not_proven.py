"""A chart, or a way, that must not be run."""

from __future__ import annotations


class NotProvenError(ValueError):
    """A chart that must not be run: the message names what is wrong with it."""
