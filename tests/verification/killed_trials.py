"""kill -9 of a trial at twenty random bytes of what it writes: gone on with, it ends as if not killed."""

from __future__ import annotations

import random
import signal
import sys
import tempfile
from pathlib import Path

from tests.trials.killed_trial import OF, whole
from tests.trials.test_killed_trial import BUILDS, killed

from handfast.files.build_log import BuildLog
from handfast.files.log_lines import as_line
from handfast.files.typed_json import to_json
from handfast.model.trial import Build

KILLS, SEED = 20, 20261129


def main() -> int:
    """0 if all agree."""
    rng, expected, kept, wrong = random.Random(SEED), whole(BUILDS), [], 0
    written = sum(len(as_line({"build": to_json(b, Build)})) for b in expected.builds)
    for number in range(KILLS):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "builds.jsonl"
            code = killed(path, rng.randint(1, written))
            log = BuildLog(path, OF)
            kept.append(len(log.done))
            right = code == -signal.SIGKILL and whole(BUILDS, log) == expected
            log.close()
            wrong += not right
            sys.stderr.write(f"   kill {number + 1} of {KILLS}: {kept[-1]} of {BUILDS} builds kept\n")
    said = f"{KILLS - wrong} of {KILLS} killed trials ended as if they had not been"
    sys.stdout.write(f"{said}; builds kept: {sorted(kept)}\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
