"""Files that a project depends on besides its YAML: named in it, or named by a URDF that it names."""

from __future__ import annotations

import hashlib
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator
from pathlib import Path

from handfast.files.inside import inside
from handfast.model.package_file import PREFIX, NotInstalledError, is_package_path, package_file
from handfast.model.project import InputFile

_SCHEME = "package://"


def hashed(folder: Path, names: Iterable[str]) -> list[InputFile]:
    """Each named file with the sha256 of its bytes, and so the link meshes that a URDF among them names.

    Names are relative to the project folder or package:NAME/path. Meshes that are not there are left out:
    the rules about arms tell of them.
    """
    found = {name: _located(folder, name) for name in names}
    for name, path in tuple(found.items()):
        if path is not None and path.suffix.lower() == ".urdf":
            found |= {mesh: _located(folder, mesh) for mesh in _meshes(folder, name, path)}
    return [InputFile(name, _sha256(path)) for name, path in sorted(found.items()) if path is not None]


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _located(folder: Path, name: str) -> Path | None:
    if is_package_path(name):
        try:
            return package_file(name).locate()
        except NotInstalledError:
            return None
    path = inside(folder, name)
    return path if path is not None and path.is_file() else None


def _meshes(folder: Path, name: str, urdf: Path) -> Iterator[str]:
    """Names of the meshes of the links' collision shapes, in the way that files are named here."""
    data = urdf.read_bytes()
    try:
        robot = ET.fromstring(b"<robot/>" if b"<!ENTITY" in data else data)
    except (ET.ParseError, ValueError, LookupError):  # an encoding that there is none of is a LookupError
        return
    home, _, _ = name.rpartition("/")
    for mesh in robot.iterfind("link/collision/geometry/mesh"):
        written = mesh.get("filename", "")
        package, _, rest = written.removeprefix(_SCHEME).partition("/")
        if not written.startswith(_SCHEME):
            yield _joined(home, written)
        elif not is_package_path(name) and _located(folder, f"{package}/{rest}"):
            yield f"{package}/{rest}"
        elif not is_package_path(name) and _located(folder, _joined(home, f"{package}/{rest}")):
            yield _joined(home, f"{package}/{rest}")
        else:
            yield f"{PREFIX}{package}/{rest}"


def _joined(home: str, path: str) -> str:
    """A path that is written relative to a folder, without the .. in it."""
    words: list[str] = [w for w in home.split("/") if w]
    for word in path.split("/"):
        if word == ".." and words and words[-1] != "..":
            words.pop()
        elif word not in ("", "."):
            words.append(word)
    return "/".join(words)
