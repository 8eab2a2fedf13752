"""The product: parts and mates."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.mate import Mate
from handfast.model.named import find
from handfast.model.part import Part
from handfast.model.subassembly import Subassembly
from handfast.model.tightening import Tightening


@dataclass(frozen=True, slots=True)
class Product:
    """Parts and mates; mates stand in the order of the file. base: the part that everything is built on."""

    base: str
    parts: tuple[Part, ...]
    mates: tuple[Mate, ...]
    order_given: bool = False
    tightenings: tuple[Tightening, ...] = ()
    subassemblies: tuple[Subassembly, ...] = ()

    def part(self, name: str) -> Part:
        """The part of that name. Raises KeyError with the names there are."""
        return find(self.parts, name, "part")

    def mate(self, name: str) -> Mate:
        """The mate of that name. Raises KeyError with the names there are."""
        return find(self.mates, name, "mate")
