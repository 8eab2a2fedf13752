"""A chart's stretches certified in two parts, each in a process of its own where there are two processors.

What is found does not depend on how many processes there are: there are two parts either way, each begins
with nothing known, and they are put together in the order of the chart.
"""

from __future__ import annotations

import contextlib
import gc
import os
import pickle
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from handfast.proof.allowances import Allowed
from handfast.proof.bodies import CellBodies
from handfast.proof.certify import certify
from handfast.proof.pieces_table import PieceTable
from handfast.proof.stretch import Stretch
from handfast.proof.tally import Tally, joined

LARGE = 20
"""Stretches of a chart from which a second process is worth its start."""


@dataclass(frozen=True)
class Job:
    """A stretch to be certified. element: to name where no hand moves."""

    stretch: Stretch
    allowed: Allowed
    element: int


Told = Callable[[float], None] | None


def certify_all(cell: CellBodies, table: PieceTable, jobs: Sequence[Job], progress: Told = None) -> Tally:
    """What all the stretches of a chart come to. progress: told the share done, 0 to 1; what it raises stops
    the second process too."""
    first, second = _parts(jobs)
    if len(jobs) < LARGE or not may_fork():
        parts = [_certified(cell, table, first, _share(progress, 0, len(first), len(jobs)))]
        parts.append(_certified(cell, table, second, _share(progress, len(first), len(jobs), len(jobs))))
        return joined(*parts)
    with _beside(lambda: _certified(cell, table, second, _while_asked())) as answer:
        one = _certified(cell, table, first, _share(progress, 0, 1, 1))
        two = answer()
    if two is None:  # the second process came to grief: whatever it met is met here, and told
        two = _certified(cell, table, second, None)
    return joined(one, two)


def _parts(jobs: Sequence[Job]) -> tuple[Sequence[Job], Sequence[Job]]:
    """The first and the last quarter, and what is between. However many knots it has, a stretch takes about
    as long as the one before it, but the more is built, the longer."""
    quarter = (len(jobs) + 2) // 4
    return [*jobs[:quarter], *jobs[len(jobs) - quarter :]], jobs[quarter : len(jobs) - quarter]


def may_fork() -> bool:
    """True if this process may be doubled: two processors are free to it, and no other thread of Python,
    which might hold a lock, runs in it."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return False
    return len(os.sched_getaffinity(0)) > 1


def _certified(cell: CellBodies, table: PieceTable, jobs: Sequence[Job], told: Told) -> Tally:
    tally = Tally()
    for index, job in enumerate(jobs):
        certify(cell, table, job.stretch, job.allowed, job.element, tally)
        if told is not None:
            told((index + 1) / len(jobs))
    return tally


def _share(progress: Told, begin: int, end: int, of: int) -> Told:
    """Progress within a part, as a share of the whole."""
    if progress is None:
        return None
    return lambda share: progress((begin + share * (end - begin)) / of)


def _while_asked() -> Told:
    """Ends this process when the one that asked is gone."""
    asked = os.getppid()

    def told(share: float) -> None:
        if os.getppid() != asked:
            os._exit(1)

    return told


@contextlib.contextmanager
def _beside(work: Callable[[], Tally]) -> Iterator[Callable[[], Tally | None]]:
    """Work in a process beside this one; gives a function that waits for what came of it, None if nothing
    did. The process is gone when the block is left, however that is."""
    reading, writing = os.pipe()
    with warnings.catch_warnings():
        # Idle threads of a library for matrices are counted too; it is made for being doubled.
        warnings.simplefilter("ignore", DeprecationWarning)
        gc.freeze()  # collecting in either process would write to what both share, and so copy it
        child = os.fork()
    if child == 0:
        _work_and_leave(work, writing)
    os.close(writing)
    gc.unfreeze()
    try:
        with os.fdopen(reading, "rb") as answers:

            def answer() -> Tally | None:
                text = answers.read()
                return pickle.loads(text) if text else None

            yield answer
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


def _work_and_leave(work: Callable[[], Tally], writing: int) -> None:
    """Never returns: nothing of the process that this one was doubled from may go on here."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # who asked is stopped, and ends this one
        text = pickle.dumps(replace(work(), known={}, gaps=None))
        with os.fdopen(writing, "wb") as out:
            out.write(text)
    finally:
        os._exit(0)
