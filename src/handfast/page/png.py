"""Pictures as PNG files (ISO/IEC 15948), written without a library."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray


def png(pixels: NDArray[np.uint8]) -> bytes:
    """RGBA (height, width, 4) -> the bytes of a PNG file."""
    height, width, _ = pixels.shape
    # Filter 2 (up): each byte less the one above it; drawings with flat tones shrink well.
    above = np.concatenate([np.zeros_like(pixels[:1]), pixels[:-1]])
    rows = (pixels - above).reshape(height, width * 4)
    body = np.concatenate([np.full((height, 1), 2, dtype=np.uint8), rows], axis=1).tobytes()
    header = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(body, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in parts)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def data_address(pixels: NDArray[np.uint8]) -> str:
    """The picture as a data: address, so that a page needs no second file."""
    return "data:image/png;base64," + base64.b64encode(png(pixels)).decode("ascii")
