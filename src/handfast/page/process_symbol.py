"""The five process chart symbols, and which of them each kind of element is.

The signs are those of the ASME standard for operation and flow process charts (1947), as the ILO's
"Introduction to Work Study" uses them on the two-handed process chart: there the triangle stands for a hold
and not for storage, and reaching and moving are both transport. (Standard and book from memory; the meanings
agree with public course notes.)
"""

from __future__ import annotations

from typing import Literal

from handfast.model.element import Element, ElementKind

ProcessSymbol = Literal["operation", "transport", "inspection", "hold", "delay"]

ORDER: tuple[ProcessSymbol, ...] = ("operation", "transport", "inspection", "hold", "delay")

SYMBOL_OF: dict[ElementKind, ProcessSymbol] = {
    "search": "inspection",
    "locate": "inspection",
    "inspect": "inspection",
    "reach": "transport",
    "move": "transport",
    "grasp": "operation",
    "position": "operation",
    "assemble": "operation",
    "use": "operation",
    "release": "operation",
    "hold": "hold",
    "delay": "delay",
}

# One column wide in terminals; found in the fonts that terminals come with.
GLYPH: dict[ProcessSymbol, str] = {
    "operation": "○",
    "transport": "→",
    "inspection": "□",
    "hold": "▽",
    "delay": "D",
}

# In a square from -6 to 6, y down.
OUTLINE: dict[ProcessSymbol, str] = {
    "operation": "M-5.2 0a5.2 5.2 0 1 0 10.4 0a5.2 5.2 0 1 0 -10.4 0z",
    "transport": "M-5.8 -2.1h5.6v-3.1l6 5.2l-6 5.2v-3.1h-5.6z",
    "inspection": "M-4.8 -4.8h9.6v9.6h-9.6z",
    "hold": "M-5.8 -4.8h11.6l-5.8 10z",
    "delay": "M-4.4 -5h3.8a5 5 0 0 1 0 10h-3.8z",
}


def symbol_of(element: Element) -> ProcessSymbol:
    """The symbol an element is charted with."""
    return SYMBOL_OF[element.kind]
