"""What the report was made from: versions and hashes."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from handfast import __version__
from handfast.report.content import ReportInput, Row, Section, Words, filled

# The libraries whose numbers are in the records.
_LIBRARIES = ("numpy", "ortools", "coal", "pin", "mujoco", "manifold3d")
_HASHES = (("file or record", 0.35), ("sha256", 0.65))
_VERSIONS = (("program or library", 0.35), ("version", 0.65))


def made_from(given: ReportInput) -> Section:
    """Files, records, versions."""
    page = given.page
    hashes: list[Row] = [(f.path, f.sha256) for f in page.project.inputs]
    hashes += [(f"record {s.kind}", s.sha256) for s in page.saved]
    versions: list[Row] = [
        ("Handfast that planned", page.chart.tool_version),
        ("Handfast that wrote this", __version__),
        ("Python", platform.python_version()),
        *((name, _version(name)) for name in _LIBRARIES),
    ]
    return Section(
        "made-from", "Versions and hashes",
        (
            Words(f"Seed {page.chart.seed}. Equal inputs, equal hashes. Libraries: as installed where this "
                  "was written."),
            filled("versions", _VERSIONS, versions, ""),
            filled("hashes", _HASHES, hashes, "No files."),
        ),
    )  # fmt: skip


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
