"""What was worked out of a mesh, kept on disk by what the mesh is."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

_ANEW = ContextVar("worked anew", default=False)
_FORM = "1"  # to be raised when what is worked out of equal input changes


def kept(what: str, given: tuple[NDArray[np.generic], ...], work: Callable[[], Array]) -> Array:
    """The array that `work` makes of the arrays `given`, from the disk if it was made before.

    what: names the work. Kept under HANDFAST_CACHE, or else in the user's folder for caches; where nothing
    can be read or written there, or within `worked_anew`, it is worked out every time.
    """
    digest = hashlib.sha256(f"{_FORM} {what}".encode())
    for array in given:
        digest.update(f"{array.dtype} {array.shape}".encode() + np.ascontiguousarray(array).tobytes())
    path = _folder() / f"{what}-{digest.hexdigest()}.npy"
    if _ANEW.get():
        return work()
    try:
        return np.asarray(np.load(path, allow_pickle=False), dtype=np.float64)
    except (OSError, ValueError):
        made = work()
    _keep(path, made)
    return made


@contextmanager
def worked_anew(yes: bool) -> Iterator[None]:
    """Within it, if `yes`, nothing that was kept is read and nothing is kept."""
    before = _ANEW.set(yes)
    try:
        yield
    finally:
        _ANEW.reset(before)


def _folder() -> Path:
    given = os.environ.get("HANDFAST_CACHE")
    if given:
        return Path(given)
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "handfast"


def _keep(path: Path, made: Array) -> None:
    """Written beside it and moved there: another process sees all of it or nothing."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=path.parent, suffix=".part")
        with os.fdopen(handle, "wb") as file:
            np.save(file, made)
        Path(beside).replace(path)
    except OSError:
        return
