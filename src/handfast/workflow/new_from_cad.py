"""A CAD assembly -> a first project folder."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.files.schema_files import pointer, schema_texts
from handfast.geometry.cad.part_mesh import stl_of
from handfast.geometry.cad.read_cad import Limits, Progress, read_cad
from handfast.mates.from_cad.guess import Guessed
from handfast.mates.from_cad.recognise import recognise
from handfast.model.finding import Finding
from handfast.workflow.from_cad.cell_of import cell_of
from handfast.workflow.from_cad.errors_of import errors_text
from handfast.workflow.from_cad.product_text import mesh_name, product_text
from handfast.workflow.from_cad.ways import up_of, with_stands
from handfast.workflow.new_project import must_be_new

LAST_READ = "cad/last_read.yaml"
"""product.yaml as it was written from the drawing the last time: what hand edits are told apart by."""


LAST_CELL = "cad/last_cell.yaml"
"""cell.yaml as it was written then: as long as nobody has edited it, a revision may write it anew."""


@dataclass(frozen=True, eq=False, slots=True)
class Begun:
    """files: written; guessed; questions: how many stand in the files; findings: what check still says."""

    files: tuple[Path, ...]
    guessed: Guessed
    questions: int
    findings: tuple[Finding, ...]


def new_from_cad(
    folder: str | Path,
    source: str | Path,
    base: str | None = None,
    limits: Limits | None = None,
    progress: Progress | None = None,
    unit: str | None = None,
) -> Begun:
    """Write a project with everything that the drawing says and suggests. unit: of a mesh that states none.

    Raises CadError for a file that cannot be read, NewProjectError if the folder is not new, ValueError for
    a base that is no part; OSError if the folder cannot be written.
    """
    home = Path(folder)
    must_be_new(home)
    guessed = recognise(read_cad(source, limits or Limits(), progress, unit), base, progress)
    return write_project(home, guessed, Path(source).name)


def write_project(home: Path, guessed: Guessed, source: str) -> Begun:
    """All files of the project; features that the drawn mesh does not bear out are left out, with the
    reason."""
    guessed = with_stands(guessed)
    files = project_files(home.name, guessed, source, {})
    left_out, findings = tried(files, guessed)
    if left_out:
        files = project_files(home.name, guessed, source, left_out)
        _, findings = tried(files, guessed)
    _write_whole(home, files)
    questions = sum(
        data.count(b"# ?") for name, data in files.items() if name.endswith(".yaml") and "/" not in name
    )
    return Begun(tuple(home / name for name in files), guessed, questions, findings)


def _write_whole(home: Path, files: dict[str, bytes]) -> None:
    """All of it or, where something comes between, nothing."""
    home.parent.mkdir(parents=True, exist_ok=True)
    partial = Path(tempfile.mkdtemp(prefix=f".{home.name}-", dir=home.parent))
    try:
        for name, data in files.items():
            (partial / name).parent.mkdir(parents=True, exist_ok=True)
            (partial / name).write_bytes(data)
        partial.chmod(0o777 & ~_umask())
        partial.replace(home)  # in one step; an empty folder of that name gives way
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise


def _umask() -> int:
    """What a new folder is made without; asking sets it, so it is set back."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def project_files(
    name: str, guessed: Guessed, source: str, left_out: dict[str, dict[str, str]]
) -> dict[str, bytes]:
    """By path in the folder."""
    cell = cell_of(guessed, up_of(guessed))
    product = product_text(guessed, source, left_out)
    texts = {
        "project.yaml": _project(name, source),
        "product.yaml": product,
        "cell.yaml": cell.text,
        "errors.yaml": errors_text(),
    }
    files = {
        file: (pointer(file.removesuffix(".yaml"), "schema") + text).encode() for file, text in texts.items()
    }
    files[LAST_READ] = product.encode()
    files[LAST_CELL] = files["cell.yaml"]
    files |= {f"schema/{file}": text.encode() for file, text in schema_texts().items()}
    for part in guessed.parts:
        files[f"meshes/{mesh_name(part)}.stl"] = stl_of(part.placed.graph)
    return files | {f"meshes/{mesh}.stl": data for mesh, data in cell.meshes.items()}


def _project(name: str, source: str) -> str:
    return f"""\
# Begun from {source}. Questions stand where their answers go: search for `# ?`.
project: {name}
product: product.yaml
cell: cell.yaml
errors: errors.yaml
target: 99 %            # wanted chance that each mate goes in
clearance: 5 mm         # kept from everything in free space
"""


def tried(files: dict[str, bytes], guessed: Guessed) -> tuple[dict[str, dict[str, str]], tuple[Finding, ...]]:
    """Check what would be written: features that no mate uses and that break a rule, and all findings."""
    with tempfile.TemporaryDirectory() as folder:
        for name, data in files.items():
            (Path(folder) / name).parent.mkdir(parents=True, exist_ok=True)
            (Path(folder) / name).write_bytes(data)
        answer = check_folder(folder)
    findings = answer.notes if isinstance(answer, CheckedProject) else answer
    left_out: dict[str, dict[str, str]] = {}
    for part in guessed.parts:
        for f in part.features:
            place = f"parts.{part.name}.features.{f.feature.name}"
            against = [g for g in findings if f"{g.where}.".startswith(f"product.{place}.")]
            if against and not f.used:
                words = f"expected {against[0].expected}, found {against[0].found} [{against[0].rule}]"
                left_out.setdefault(part.name, {})[f.feature.name] = words
    return left_out, tuple(findings)
