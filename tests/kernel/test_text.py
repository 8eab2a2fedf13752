"""The kernel's JSON text against the standard library's json, which is outside the project."""

from __future__ import annotations

import json
import math
import struct
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handfast import _kernel

FLOATS = st.floats(allow_nan=False, allow_infinity=False)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | FLOATS | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=40,
)


def by_the_library(value: Any) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


@given(PLAIN)
def test_any_value_is_written_as_the_library_writes_it(value: Any) -> None:
    assert _kernel.json_text(value) == by_the_library(value)


@pytest.mark.parametrize("seed", range(4))
def test_floats_of_any_bits_are_their_repr(seed: int) -> None:
    bits = np.random.default_rng(seed).integers(0, 2**64, 50_000, dtype=np.uint64).tolist()
    values = [v for v in (struct.unpack("<d", struct.pack("<Q", b))[0] for b in bits) if math.isfinite(v)]
    assert len(values) > 49_000
    assert _kernel.json_text(values) == f"[{','.join(map(repr, values))}]"


def test_floats_about_every_power_of_ten_are_their_repr() -> None:
    powers = [float(f"1e{k}") for k in range(-323, 309)]
    near = [(p, math.nextafter(p, 0.0), math.nextafter(p, math.inf), -p, 12.5 * p) for p in powers]
    about = [v for group in near for v in group]
    values = [0.0, -0.0, 5e-324, 2.0**53, *(v for v in about if math.isfinite(v))]
    assert _kernel.json_text(values) == f"[{','.join(map(repr, values))}]"


def test_what_json_has_no_word_for_is_refused() -> None:
    for value in (math.nan, math.inf, -math.inf):
        with pytest.raises(ValueError, match="finite"):
            _kernel.json_text({"row": [1.0, value]})
    with pytest.raises(TypeError, match="words as keys"):
        _kernel.json_text({1: 2})
    with pytest.raises(TypeError, match="expected numbers"):
        _kernel.json_text([object()])
    with pytest.raises(UnicodeEncodeError):
        _kernel.json_text("\ud800")


def test_what_is_nested_without_end_is_refused() -> None:
    endless: list[Any] = []
    endless.append(endless)
    with pytest.raises(RecursionError):
        _kernel.json_text(endless)
