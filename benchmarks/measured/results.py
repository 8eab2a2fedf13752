"""Where figures go: benchmarks/results.json, one entry a script, with the machine they were taken on."""

from __future__ import annotations

import json
import os
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from handfast import _kernel

FILE = Path(__file__).parents[1] / "results.json"
PROJECTS = Path(__file__).parents[2] / "projects"
_LIBRARIES = ("numpy", "pin", "coal", "ortools", "mujoco", "ompl")


def machine() -> dict[str, Any]:
    """What the figures depend on."""
    return {
        "processor": _processor(),
        "cores": os.cpu_count(),
        "load_before": round(os.getloadavg()[0], 1),
        "system": platform.system(),
        "python": platform.python_version(),
        "kernel_level": _kernel.level(),
        "libraries": {name: _version(name) for name in _LIBRARIES},
    }


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text().splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "absent"


def keep(script: str, figures: Any) -> None:
    """Put a script's figures into the file, beside those of the others."""
    everything = json.loads(FILE.read_text()) if FILE.exists() else {}
    everything[script] = {"machine": machine(), "figures": figures}
    FILE.write_text(json.dumps(everything, indent=1, sort_keys=True) + "\n")


def spread(values: Any) -> dict[str, float]:
    """Median and 95th percentile."""
    return {
        "median": float(f"{np.median(values):.4g}"),
        "p95": float(f"{np.percentile(values, 95):.4g}"),
    }


def table(head: tuple[str, ...], rows: list[tuple[Any, ...]]) -> None:
    """Print columns, the first one left, the others right."""
    text = [head, *[tuple(f"{v:.3g}" if isinstance(v, float) else str(v) for v in r) for r in rows]]
    wide = [max(len(r[i]) for r in text) for i in range(len(head))]
    for i, row in enumerate(text):
        first, *rest = row
        print(
            "  "
            + "  ".join([first.ljust(wide[0]), *(c.rjust(w) for c, w in zip(rest, wide[1:], strict=True))])
        )
        if i == 0:
            print("  " + "  ".join("-" * w for w in wide))
