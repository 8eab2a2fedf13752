"""Random streams from stable keys."""

from __future__ import annotations

import hashlib


def stream(seed: int, *keys: str) -> int:
    """A 63-bit seed derived from stable keys, so that editing one mate does not reshuffle the others."""
    text = "\0".join([str(seed), *keys])
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "little") >> 1
