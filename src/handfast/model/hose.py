"""A hose or cable on an arm, as the space that it may take."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.shape import Solid


@dataclass(frozen=True, slots=True)
class Hose:
    """solids: the space it sweeps when it sways, in the frame of the link it moves with; link: of the URDF,
    or of a layout (model/layout.py LINKS). It is kept clear of everything like the link itself."""

    name: str
    link: str
    solids: tuple[Solid, ...]
