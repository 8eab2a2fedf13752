"""Builds spread over the workers of a Dask cluster; a worker that is lost has its builds done by another.

Workers need the same Handfast and the same project folder at the same path (its arms are read there).
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from contextlib import closing
from itertools import islice
from typing import Any

from handfast import __version__
from handfast.model.trial import Build

AHEAD = 4  # builds that are asked for ahead of those that are done, for each worker
_CONNECT_S = 30.0


class ClusterError(RuntimeError):
    """A cluster that cannot be used: the message says why and what to do."""


def on_cluster(address: str) -> Callable[..., Generator[Build, None, None]]:
    """A way to have builds done, for `trial`. Raises ClusterError if there is no such scheduler or no
    worker, or the extra is missing."""
    try:
        import distributed
    except ImportError as error:
        raise ClusterError(
            f"expected the extra `cluster` for {address}; install it: pip install 'handfast[cluster]'"
        ) from error
    try:
        client: Any = distributed.Client(  # type: ignore[no-untyped-call]
            address, timeout=_CONNECT_S, set_as_default=False
        )
    except (OSError, TimeoutError, ValueError) as error:
        raise ClusterError(f"expected a Dask scheduler at {address}, found none: {error}") from error
    versions = client.run(_version)
    if not versions or any(v != __version__ for v in versions.values()):
        client.close()
        found = ", ".join(f"{w} has {v}" for w, v in versions.items()) or "no worker"
        raise ClusterError(f"expected workers with Handfast {__version__}, found {found}")
    return lambda what, numbers: _done(client, len(versions), what, numbers)


def _same(what: Any) -> Any:
    return what


def _version() -> str:
    return __version__


def _done(client: Any, workers: int, what: Any, numbers: list[int]) -> Generator[Build, None, None]:
    """Builds in their order."""
    from handfast.trials.trial import build_anywhere

    with closing(client):
        # As the result of a task, not scattered: lost with a worker, it is made again.
        shared = client.submit(_same, what, pure=False)
        waiting = (client.submit(build_anywhere, shared, n, pure=False) for n in numbers)
        asked = list(islice(waiting, AHEAD * workers))
        while asked:
            yield asked.pop(0).result()
            asked += islice(waiting, 1)
