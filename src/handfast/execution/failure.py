"""What went wrong in an element: why, what was found, and what a person must do."""

from __future__ import annotations

from handfast.model.recovery import Cause


class FailureError(Exception):
    """cause; found: what was seen, measured or felt, with numbers; remedy: what a person must do."""

    def __init__(self, cause: Cause, found: str, remedy: str = "") -> None:
        super().__init__(f"{found}; {remedy}" if remedy else found)
        self.cause, self.found, self.remedy = cause, found, remedy
