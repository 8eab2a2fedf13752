"""A CAD file read in a process of its own: limits of time and memory, progress, and nothing lost if it
breaks."""

from __future__ import annotations

import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from handfast.geometry.cad.assembly import Assembly
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.read_mesh_part import is_mesh
from handfast.geometry.cad.reading_process import OUT_OF_MEMORY
from handfast.geometry.cad.step_text import LARGEST, look_at_text, must_be_small_enough

_NO_MEMORY = ("MemoryError", "bad_alloc", "OutOfMemory", "failed to map segment", "annot allocate memory")
"""What libraries say, one way or another, when memory is at its limit."""
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Limits:
    """seconds: of reading; memory: bytes the reading process may claim; largest: bytes of the file."""

    seconds: float = 300.0
    memory: int = 8_000_000_000
    largest: int = LARGEST


def read_cad(
    path: str | Path, limits: Limits | None = None, progress: Progress | None = None, unit: str | None = None
) -> Assembly:
    """The assembly in a STEP file, or the part in a mesh file. An interrupt (Ctrl-C) ends the reading;
    nothing is written anywhere.

    unit: of a mesh whose format states none, such as "mm". Raises CadError: what the file lacks, or which
    limit it met.
    """
    limits = limits or Limits()
    if is_mesh(path):
        must_be_small_enough(path, limits.largest)
    else:
        look_at_text(path, limits.largest)  # most mistakes are told before a process is started
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "assembly"
        code = (
            "import sys; from handfast.geometry.cad.reading_process import run; sys.exit(run(*sys.argv[1:]))"
        )
        given = (path, out, limits.memory, limits.largest, unit or "")
        asked = [sys.executable, "-c", code, *map(str, given)]
        with (Path(folder) / "words").open("w") as words:
            child = subprocess.Popen(asked, stdout=subprocess.PIPE, stderr=words, text=True)
        try:
            _wait(child, path, limits.seconds, progress)
        finally:
            if child.poll() is None:
                child.kill()
            child.wait()
            if child.stdout is not None:
                child.stdout.close()
        return _result(child.returncode, out, path, limits)


def _wait(child: subprocess.Popen[str], path: str | Path, seconds: float, progress: Progress | None) -> None:
    teller = Thread(target=_tell, args=(child, progress), daemon=True)
    teller.start()
    try:
        child.wait(timeout=seconds)
    except subprocess.TimeoutExpired as error:
        raise CadError(
            f"{path}: expected to be read within {seconds:g} s, was not; leave out what is not assembled, "
            "or allow "
            "more with --seconds"
        ) from error
    teller.join()


def _tell(child: subprocess.Popen[str], progress: Progress | None) -> None:
    for line in child.stdout or ():
        done, of, what = line.rstrip("\n").split(" ", 2)
        if progress is not None:
            progress(what, int(done), int(of))


def _result(code: int, out: Path, path: str | Path, limits: Limits) -> Assembly:
    if code == 0:
        with out.open("rb") as file:
            found = pickle.load(file)  # written by our own process a moment ago
        if isinstance(found, Assembly):
            return found
        raise CadError(str(found))
    said = (out.parent / "words").read_text(errors="replace").strip().splitlines()
    if code == OUT_OF_MEMORY or any(word in line for line in said[-3:] for word in _NO_MEMORY):
        raise CadError(
            f"{path}: expected to be read within {limits.memory / 1e9:g} GB of memory, was not; leave out "
            "what is not assembled"
        )
    if code < 0:
        raise CadError(
            f"{path}: the CAD library broke off (signal {-code}); export the file again, or as another AP"
        )
    raise CadError(
        f"{path}: the reader broke off and should not have ({said[-1] if said else f'code {code}'}); please "
        "report this with the file, and meanwhile export it as another AP"
    )
