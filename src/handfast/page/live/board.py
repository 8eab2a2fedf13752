"""What the page shows now, and who listens for news of it."""

from __future__ import annotations

import asyncio
import json
import threading
from typing import Any


class Board:
    """Sheet and geometry as bytes, the last line of each kind of news, and a queue per open page. Filled from
    the thread of the worker, read by that of the server."""

    def __init__(self, sheet: bytes, geometry: bytes) -> None:
        self.sheet, self.geometry, self.revision = sheet, geometry, 1
        self._last: dict[str, str] = {}
        self._queues: list[tuple[asyncio.AbstractEventLoop, asyncio.Queue[str]]] = []
        self._lock = threading.Lock()

    def put_sheet(self, sheet: bytes, geometry: bytes | None = None) -> None:
        """Another sheet; geometry: other bodies, if they are others."""
        with self._lock:
            self.sheet, self.revision = sheet, self.revision + 1
            self.geometry = self.geometry if geometry is None else geometry
        self.tell({"kind": "sheet", "revision": self.revision})

    def tell(self, news: dict[str, Any]) -> None:
        """To every open page; new ones hear the last of each kind but sheets, which they fetch."""
        text = json.dumps(news, ensure_ascii=False)
        with self._lock:
            if news["kind"] == "work":
                self._last["work"] = text
            for loop, queue in self._queues:
                if not loop.is_closed():
                    loop.call_soon_threadsafe(queue.put_nowait, text)

    def listen(self) -> asyncio.Queue[str]:
        """A queue of news for one page, beginning with how things stand."""
        queue: asyncio.Queue[str] = asyncio.Queue()
        with self._lock:
            for text in self._last.values():
                queue.put_nowait(text)
            self._queues.append((asyncio.get_running_loop(), queue))
        return queue

    def leave(self, queue: asyncio.Queue[str]) -> None:
        """The page has gone."""
        with self._lock:
            self._queues = [(loop, q) for loop, q in self._queues if q is not queue]
