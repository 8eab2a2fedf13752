"""What runs in the process that reads a CAD file."""

from __future__ import annotations

import pickle
import sys
from pathlib import Path

from handfast.geometry.cad.assembly import Assembly
from handfast.geometry.cad.cad_error import CadError

OUT_OF_MEMORY = 3


def run(path: str, out: str, memory: str, largest: str, unit: str) -> int:
    """Write the assembly, or the words of the refusal, to `out`; progress goes to stdout. The exit code."""
    _limit(int(memory))
    try:
        found: Assembly | str = _read(path, int(largest), unit or None)
    except CadError as error:
        found = str(error)
    except MemoryError:
        return OUT_OF_MEMORY
    with Path(out).open("wb") as file:
        pickle.dump(found, file, protocol=pickle.HIGHEST_PROTOCOL)
    return 0


def _read(path: str, largest: int, unit: str | None) -> Assembly:
    from handfast.geometry.cad.read_mesh_part import is_mesh, read_mesh_part

    if is_mesh(path):
        return read_mesh_part(path, unit, _tell)
    from handfast.geometry.cad.read_step import read_step

    return read_step(path, _tell, largest)


def _tell(what: str, done: int, of: int) -> None:
    sys.stdout.write(f"{done} {of} {what.splitlines()[0] if what else ''}\n")
    sys.stdout.flush()


def _limit(memory: int) -> None:
    import resource

    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    wanted = memory if hard == resource.RLIM_INFINITY else min(memory, hard)
    resource.setrlimit(resource.RLIMIT_AS, (wanted, hard))
