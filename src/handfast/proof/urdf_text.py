"""A URDF as pinocchio can read it: with a name, and with the paths of its meshes resolved."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

from handfast.model.arm import Arm
from handfast.model.package_file import NotInstalledError, homes_of, is_package_path, package_file

_SCHEME = "package://"


class ArmError(ValueError):
    """A URDF that the proof cannot use for the arm that names it."""


def urdf_text(arm: Arm, folder: Path) -> str:
    """The URDF of an arm; meshes lie beside it, in the project `folder` or in an installed package. Raises
    ArmError."""
    path = _path(arm, folder)
    try:
        text = path.read_text("utf-8")
        if "<!ENTITY" in text:
            raise ArmError(f"arm {arm.name!r}: expected a plain URDF, found an entity in {path}")
        robot = ET.fromstring(text)
    except (OSError, UnicodeDecodeError, ET.ParseError) as error:
        raise ArmError(f"arm {arm.name!r}: expected a URDF at {path}, found: {error}") from error
    if not robot.get("name"):  # pinocchio insists on one; nothing depends on it
        robot.set("name", arm.name)
    for link in robot.iter("link"):
        for visual in link.findall("visual"):  # nothing here looks at it, and its files may be missing
            link.remove(visual)
        for mesh in link.iter("mesh"):
            mesh.set("filename", str(_mesh(arm, mesh.get("filename", ""), path, folder)))
    return ET.tostring(robot, encoding="unicode")


def _path(arm: Arm, folder: Path) -> Path:
    try:
        path = package_file(arm.urdf).locate() if is_package_path(arm.urdf) else folder / arm.urdf
    except NotInstalledError as error:
        raise ArmError(f"arm {arm.name!r}: {error}") from error
    if not path.is_file():
        raise ArmError(f"arm {arm.name!r}: expected a URDF at {path}, found none")
    return path


def _mesh(arm: Arm, written: str, urdf: Path, folder: Path) -> Path:
    """Where a mesh lies that a URDF names by package://NAME/path or relative to itself."""
    candidates: list[Path]
    if written.startswith(_SCHEME):
        package, _, rest = written.removeprefix(_SCHEME).partition("/")
        near = () if is_package_path(arm.urdf) else (folder / package, urdf.parent / package)
        candidates = [home / rest for home in (*near, *homes_of(package))]
    else:
        candidates = [urdf.parent / written]
    for candidate in candidates:
        if candidate.is_file():
            return candidate.resolve()
    raise ArmError(
        f"arm {arm.name!r}: expected the mesh {written!r} that {urdf.name} names, found no such file"
    )
