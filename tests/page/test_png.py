"""PNG files read back by a reader written from the specification (ISO/IEC 15948: chunks, CRC, filters)."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest

from handfast.page.png import data_address, png


def read(data: bytes) -> np.ndarray:
    assert data[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])
    at, chunks = 8, []
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (crc,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert crc == zlib.crc32(kind + body)
        chunks.append((kind, body))
        at += 12 + length
    assert [k for k, _ in chunks] == [b"IHDR", b"IDAT", b"IEND"]
    width, height, depth, colour, *rest = struct.unpack(">IIBBBBB", chunks[0][1])
    assert (depth, colour, rest) == (
        8,
        6,
        [0, 0, 0],
    )  # 8 bits, RGBA, deflate, adaptive filters, not interlaced
    raw = np.frombuffer(zlib.decompress(chunks[1][1]), dtype=np.uint8).reshape(height, 1 + 4 * width)
    rows: list[np.ndarray] = []
    for row in raw:
        above = rows[-1] if rows else np.zeros(4 * width, dtype=np.uint8)
        assert row[0] in (0, 2)
        rows.append(row[1:] if row[0] == 0 else row[1:] + above)
    return np.array(rows).reshape(height, width, 4)


@pytest.mark.parametrize("shape", [(1, 1), (3, 7), (40, 25)])
def test_pixels_come_back(shape: tuple[int, int]) -> None:
    pixels = np.random.default_rng(3).integers(0, 256, (*shape, 4), dtype=np.uint8)
    np.testing.assert_array_equal(read(png(pixels)), pixels)


def test_the_address_needs_no_second_file() -> None:
    assert data_address(np.zeros((2, 2, 4), dtype=np.uint8)).startswith("data:image/png;base64,iVBORw0KGgo")
