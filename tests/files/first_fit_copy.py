"""A copy of the smallest project, for tests to spoil."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

from handfast.model.finding import Finding

ORIGINAL = Path(__file__).parents[2] / "projects" / "first-fit"


def copy_to(folder: Path) -> Path:
    """first-fit, whole, inside `folder`."""
    return Path(shutil.copytree(ORIGINAL, folder / "first-fit", ignore=shutil.ignore_patterns("records")))


def edit(project: Path, file: str, old: str, new: str) -> int:
    """Replace the one place where `old` stands; returns its line."""
    path = project / file
    text = path.read_text()
    if text.count(old) != 1:
        raise ValueError(f"{old!r} stands {text.count(old)} times in {file}")
    path.write_text(text.replace(old, new))
    return text[: text.index(old)].count("\n") + 1


def errors(findings: tuple[Finding, ...]) -> list[Finding]:
    """Those that stop the work."""
    return [f for f in findings if f.severity == "error"]


def folder_sha256(folder: Path) -> str:
    """Of all names and bytes below a folder."""
    total = hashlib.sha256()
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        total.update(str(path.relative_to(folder)).encode() + b"\0" + path.read_bytes())
    return total.hexdigest()
