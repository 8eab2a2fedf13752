"""Parts of the corpus as meshes, at a deflection of choice, by the CAD library's own mesher."""

from __future__ import annotations

from pathlib import Path
from typing import Any

FINE, COARSE = (0.02, 0.2), (0.3, 0.5)
"""Linear [mm] and angular [rad] deflection: some 32 and 13 flats around a circle."""


def write_stl(shape: Any, path: Path, deflection: tuple[float, float]) -> Path:
    """Binary STL in mm."""
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.BRepTools import BRepTools
    from OCP.StlAPI import StlAPI_Writer

    BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, deflection[0], False, deflection[1], False)
    writer = StlAPI_Writer()
    writer.ASCIIMode = False
    writer.Write(shape, str(path))
    return path
