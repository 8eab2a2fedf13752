"""Where the mesh lies that a URDF names."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from handfast.kinematics.urdf_values import ArmError
from handfast.model.arm import Arm
from handfast.model.package_file import homes_of, is_package_path, package_file

_SCHEME = "package://"


@dataclass(frozen=True, slots=True)
class MeshFinder:
    """urdf: the file that names the meshes; homes: folders that a relative path must not leave; folder: in
    which packages may lie beside each other."""

    urdf: Path
    homes: tuple[Path, ...]
    folder: Path | None

    def find(self, filename: str, place: str) -> Path:
        """The mesh meant by `filename`, there or not. Raises ArmError for a path that leads elsewhere."""
        if "\0" in filename or "\\" in filename or Path(filename).is_absolute():
            raise ArmError(f"{place}: expected a relative path or package://NAME/path, found {filename!r}")
        if filename.startswith(_SCHEME):
            return self._in_package(filename, place)
        if "://" in filename:
            raise ArmError(f"{place}: expected a relative path or package://NAME/path, found {filename!r}")
        target = (self.urdf.parent / filename).resolve()
        if not any(target.is_relative_to(home.resolve()) for home in self.homes):
            raise ArmError(
                f"{place}: expected a file beside the URDF, found {filename!r}, which leaves its folder"
            )
        return target

    def _in_package(self, filename: str, place: str) -> Path:
        package, _, rest = filename.removeprefix(_SCHEME).partition("/")
        candidates = []
        for home in self._homes(package):
            target = (home / rest).resolve()
            if not target.is_relative_to(home.resolve()):
                raise ArmError(f"{place}: expected a path inside the package, found {filename!r}")
            candidates.append(target)
        if not candidates:
            raise ArmError(
                f"{place}: expected a package in the project folder or an installed one, "
                f"found {filename!r} and no such package"
            )
        return next((c for c in candidates if c.is_file()), candidates[0])

    def _homes(self, package: str) -> Iterator[Path]:
        if self.folder is not None and package not in ("", ".", ".."):
            for near in (self.folder / package, self.urdf.parent / package):
                if near.is_dir():
                    yield near
        yield from homes_of(package)


def mesh_finder(arm: Arm, urdf: Path, folder: str) -> MeshFinder:
    """For the meshes of that arm's URDF. folder: of the project."""
    if is_package_path(arm.urdf):
        return MeshFinder(urdf, tuple(homes_of(package_file(arm.urdf).package)), None)
    return MeshFinder(urdf, (Path(folder),), Path(folder))
