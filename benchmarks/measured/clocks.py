"""Timers around functions of the product, put there from outside and taken away again.

Times are exclusive: while a timed function calls another timed one, only the inner clock runs.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from inspect import isgeneratorfunction
from types import TracebackType
from typing import Any


class Clocks:
    """Use as a context: functions given to `on` are timed inside it. seconds, calls: by part of the work."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.calls: dict[str, int] = defaultdict(int)
        self._running: list[str] = []
        self._since = 0.0
        self._undo: list[tuple[Any, str, Any]] = []

    def on(self, part: str, *functions: Callable[..., Any]) -> None:
        """Time module functions wherever the planner has imported them."""
        for function in functions:
            timed = self._timed(part, function)
            homes = [m for n, m in sys.modules.items() if n.startswith("handfast.") and m is not None]
            found = [(m, k) for m in homes for k, v in vars(m).items() if v is function]
            for module, name in found:
                self._put(module, name, function, timed)

    def on_attribute(self, part: str, owner: Any, *names: str) -> None:
        """Time methods of a class or functions of the compiled module."""
        for name in names:
            function = getattr(owner, name)
            self._put(owner, name, function, self._timed(part, function))

    def _put(self, owner: Any, name: str, old: Any, new: Any) -> None:
        self._undo.append((owner, name, old))
        setattr(owner, name, new)

    def _switch(self, part: str | None) -> None:
        """Stop the clock that runs; start that of `part`, or the one before."""
        now = time.perf_counter()
        if self._running:
            self.seconds[self._running[-1]] += now - self._since
        if part is None:
            self._running.pop()
        else:
            self._running.append(part)
        self._since = now

    def _timed(self, part: str, function: Callable[..., Any]) -> Callable[..., Any]:
        if isgeneratorfunction(function):

            def stepped(*args: Any, **more: Any) -> Iterator[Any]:
                self.calls[part] += 1
                steps = function(*args, **more)
                while True:
                    self._switch(part)
                    try:
                        item = next(steps)
                    except StopIteration:
                        return
                    finally:
                        self._switch(None)
                    yield item

            return stepped

        def timed(*args: Any, **more: Any) -> Any:
            self.calls[part] += 1
            self._switch(part)
            try:
                return function(*args, **more)
            finally:
                self._switch(None)

        return timed

    def __enter__(self) -> Clocks:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        while self._undo:
            owner, name, old = self._undo.pop()
            setattr(owner, name, old)
