"""How the workers talk to the page: a line of JSON at a time, on standard output."""

from __future__ import annotations

import json
import sys
from typing import Any


def line(**values: Any) -> None:
    """One line, at once."""
    sys.stdout.write(json.dumps(values, ensure_ascii=False) + "\n")
    sys.stdout.flush()
