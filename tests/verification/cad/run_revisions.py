"""All thirty revisions, each against the same project with hand edits.

python -m tests.verification.cad.run_revisions
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.verification.cad.revisions import REVISIONS, holds, with_hand_edits


def main() -> int:
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        edited = with_hand_edits(Path(folder))
        for name in REVISIONS:
            try:
                place = Path(folder) / name.replace(" ", "_")
                place.mkdir()
                holds(edited, place, name)
                sys.stdout.write(f"   {name}: no edit lost, nothing taken for another\n")
            except AssertionError as error:
                failed += 1
                sys.stdout.write(f"   {name}: {error}\n")
    sys.stdout.write(f"{len(REVISIONS) - failed} of {len(REVISIONS)} revisions held\n")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
