"""The page's script and style, built from web/ and shipped with the package (docs/decisions/0008)."""

from __future__ import annotations

import hashlib
from pathlib import Path

BUILT = Path(__file__).parent / "built"
HASH_FILE = "sources.sha256"
# Folders and files of web/ that the built page does not come from.
_ASIDE = {"node_modules", "dist", "test"}


def built(name: str) -> str:
    """The text of one built file. Raises FileNotFoundError for a name there is none of."""
    return (BUILT / name).read_text(encoding="utf-8")


def sources_sha256(web: Path) -> str:
    """sha256 over the names and contents of the sources in web/, in the order of their names."""
    files = sorted(p for p in web.rglob("*") if p.is_file() and p.relative_to(web).parts[0] not in _ASIDE)
    digest = hashlib.sha256()
    for path in files:
        name = path.relative_to(web).as_posix().encode()
        digest.update(b"%d %s %d " % (len(name), name, path.stat().st_size) + path.read_bytes())
    return digest.hexdigest()
