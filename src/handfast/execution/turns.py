"""Element after element of one hand beside those of the other, each written as if it were alone.

What an element does is plain code that asks the cell and waits for the answer. Here it runs in a thread of
its own that stands still at every question; only one thread ever runs, and who runs next is decided in one
place. So nothing is shared that could change under anyone, and equal runs go equally.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Asked:
    """What an element asks for and then waits for. name: of the call; given: its arguments."""

    name: str
    given: Mapping[str, Any]


class Dropped(BaseException):
    """Whoever ran the elements has given this one up."""


class Turn:
    """One element on its way: runs from question to question."""

    def __init__(self, doing: Callable[[], None]) -> None:
        self._doing = doing
        self._go, self._back = threading.Semaphore(0), threading.Semaphore(0)
        self._answer: Any = None
        self._raise: BaseException | None = None
        self.asked: Asked | None = None
        self.failed: BaseException | None = None
        self.over = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def go_on(self, answer: Any = None, error: BaseException | None = None) -> None:
        """Run on with an answer, or an error, until the next question or the end."""
        self._answer, self._raise, self.asked = answer, error, None
        self._go.release()
        self._back.acquire()

    def drop(self) -> None:
        """End it where it stands."""
        if not self.over:
            self.go_on(error=Dropped())
        self._thread.join()

    def ask(self, asked: Asked) -> Any:
        """Of the running element: stand still until there is an answer. Raises what it is answered with."""
        self.asked = asked
        self._back.release()
        self._go.acquire()
        if self._raise is not None:
            raise self._raise
        return self._answer

    def _run(self) -> None:
        self._go.acquire()
        try:
            if self._raise is not None:
                raise self._raise
            self._doing()
        except BaseException as error:  # noqa: BLE001 - told to whoever runs the elements, whatever it is
            self.failed = error
        self.over = True
        self._back.release()
