"""A file of an installed package, such as open robot data."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PREFIX = "package:"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
SHARE = Path("cmeel.prefix") / "share"
"""Where packages of compiled robotics libraries keep their data, below a folder of installed packages."""


class NotInstalledError(ValueError):
    """No such package, no such file in it, or a path that leaves it. The message says which."""


@dataclass(frozen=True, slots=True)
class PackageFile:
    """package: its name; path: in its folder of data. Only ever read, and nothing of the package is run."""

    package: str
    path: str

    def locate(self) -> Path:
        """The file on this machine. Raises NotInstalledError."""
        homes = tuple(homes_of(self.package))
        if not homes:
            raise NotInstalledError(f"expected an installed package, found none named {self.package!r}")
        for home in homes:
            target = (home / self.path).resolve()
            if not target.is_relative_to(home.resolve()):
                raise NotInstalledError(
                    f"expected a path inside package {self.package!r}, found {self.path!r}"
                )
            if target.is_file():
                return target
        raise NotInstalledError(
            f"expected a file of the installed package {self.package!r}, found no {self.path!r} in it"
        )


def is_package_path(written: str) -> bool:
    """Whether a path is meant to be one in an installed package."""
    return written.startswith(PREFIX)


def package_file(written: str) -> PackageFile:
    """From `package:NAME/path`. Raises NotInstalledError for another form."""
    name, slash, path = written.removeprefix(PREFIX).partition("/")
    if not is_package_path(written) or not slash or not path or "\0" in path or not _NAME.fullmatch(name):
        raise NotInstalledError(f"expected package:NAME/path, found {written!r}")
    return PackageFile(name, path)


def homes_of(package: str) -> Iterator[Path]:
    """Folders in which an installed package of that name keeps files; none if there is no such package."""
    if not _NAME.fullmatch(package):
        return
    for place in dict.fromkeys(sys.path):
        share = Path(place) / SHARE / package
        if share.is_dir():
            yield share
    spec = importlib.util.find_spec(package)  # of a name without a dot: looks, imports nothing
    for folder in (spec.submodule_search_locations or ()) if spec is not None else ():
        yield Path(folder)
