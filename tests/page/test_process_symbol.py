"""Symbols of the two-handed process chart."""

from __future__ import annotations

import unicodedata
from typing import get_args

from handfast.model.element import ElementKind
from handfast.page.process_symbol import GLYPH, ORDER, OUTLINE, SYMBOL_OF, ProcessSymbol


def test_every_kind_of_element_has_a_symbol() -> None:
    assert set(SYMBOL_OF) == set(get_args(ElementKind))
    assert set(SYMBOL_OF.values()) == set(ORDER) == set(get_args(ProcessSymbol)) == set(GLYPH) == set(OUTLINE)


def test_meanings_are_those_of_the_two_handed_process_chart() -> None:
    # ILO, Introduction to Work Study, two-handed process chart: operation is grasp, position, use, release of
    # a tool, component or material; transport is movement of the hand; delay is an idle hand; the triangle is
    # a hold. (Wording from public course notes; book from memory.)
    assert {k for k, s in SYMBOL_OF.items() if s == "operation"} >= {"grasp", "position", "use", "release"}
    assert {k for k, s in SYMBOL_OF.items() if s == "transport"} == {"reach", "move"}
    assert {k for k, s in SYMBOL_OF.items() if s == "delay"} == {"delay"}
    assert {k for k, s in SYMBOL_OF.items() if s == "hold"} == {"hold"}


def test_glyphs_take_one_column_each() -> None:
    # Unicode UAX 11: W and F are two columns wide in every terminal.
    for glyph in GLYPH.values():
        assert len(glyph) == 1
        assert unicodedata.east_asian_width(glyph) not in ("W", "F")
    assert len(set(GLYPH.values())) == len(GLYPH)
