"""What the exit code says, and the one way to stop early."""

from __future__ import annotations

YES = 0
NO = 1
UNUSABLE = 2
STOPPED = 130
"""By Ctrl-C, as a shell has it."""


class UnusableError(Exception):
    """The input cannot be used. lines: what to tell the person, findings included; said: already told."""

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines
