"""A cell behind a port of this machine."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from handfast.execution.serve_cell import serve


@contextmanager
def served(cell: object) -> Iterator[str]:
    """A cell behind a port, for one client."""
    ports: list[int] = []
    ready = threading.Event()

    def told(port: int) -> None:
        ports.append(port)
        ready.set()

    thread = threading.Thread(target=serve, args=(cell, "127.0.0.1", 0, told, 1), daemon=True)
    thread.start()
    assert ready.wait(5)
    yield f"tcp://127.0.0.1:{ports[0]}"
    thread.join(5)
    assert not thread.is_alive()
