"""Every formula of the ledger broken once: does the test that holds it turn red?

Each run is a process of its own that reads one module with one formula changed (the files stay as they are)
and runs one test. A test that stays green, or that stops for another reason than an assertion, is told, and
the run fails. `python -m tests.verification.broken_formulas [WORD]`: only those whose text has that word.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, ModuleType

import pytest
from tests.verification.formulas import FORMULAS, Formula

ROOT = Path(__file__).parents[2]
SOURCES = ROOT / "src" / "handfast"
WORKERS = os.cpu_count() or 1


def source_of(formula: Formula) -> str:
    """The text of its module. Raises SystemExit where the formula does not stand there exactly once."""
    text = (SOURCES / formula.module).read_text()
    if text.count(formula.right) != 1:
        raise SystemExit(
            f"{formula.module}: expected {formula.right!r} once, found it {text.count(formula.right)} times; "
            "write it in tests/verification/formulas.py as it stands now"
        )
    return text


class _Changed(importlib.machinery.SourceFileLoader):
    """Loads a module from another text than its file's."""

    def __init__(self, name: str, path: str, text: str) -> None:
        super().__init__(name, path)
        self.text = text

    def get_code(self, fullname: str) -> CodeType:
        code: CodeType = compile(self.text, self.path, "exec")
        return code


class _Broken(importlib.abc.MetaPathFinder):
    """Finds one module, with one formula changed, before anything else does."""

    def __init__(self, formula: Formula) -> None:
        self.module = "handfast." + formula.module.removesuffix(".py").replace("/", ".")
        path = str(SOURCES / formula.module)
        self.loader = _Changed(self.module, path, source_of(formula).replace(formula.right, formula.wrong))

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname != self.module:
            return None
        return ModuleSpec(fullname, self.loader, origin=self.loader.path)


def run_one(index: int) -> int:
    """Exit code of pytest for one test, with formula `index` broken; -1: with none broken."""
    if index >= 0:
        sys.meta_path.insert(0, _Broken(FORMULAS[index]))
    tests = [FORMULAS[index].test] if index >= 0 else sorted({f.test for f in FORMULAS})
    quiet = ["-q", "-x", "-p", "no:cacheprovider", "--no-header", "--tb=line"]
    return int(pytest.main([*quiet, *(str(ROOT / "tests" / t) for t in tests)]))


def say(line: str) -> None:
    """At once, so that one sees how far it is."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def start(index: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.verification.broken_formulas", "--one", str(index)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip


def verdict(formula: Formula, code: int, said: str) -> str:
    """What is wrong, "" if its test turned red."""
    if code == 0:
        return f"{formula.what}: {formula.test} stays green with {formula.wrong!r} in {formula.module}"
    if code != 1 or " failed" not in said:
        return f"{formula.what}: {formula.test} did not run (exit code {code}): {said.strip()[-300:]}"
    return ""


def main(word: str) -> int:
    began = time.monotonic()
    chosen = [i for i, f in enumerate(FORMULAS) if word.lower() in f"{f.what} {f.module} {f.test}".lower()]
    for i in chosen:
        source_of(FORMULAS[i])
    whole = start(-1)
    said, _ = whole.communicate()
    if whole.returncode != 0:
        say(f"{said}\na test is red with every formula as it is")
        return 1
    found: list[str] = []
    for at in range(0, len(chosen), WORKERS):
        runs = [(FORMULAS[i], start(i)) for i in chosen[at : at + WORKERS]]
        for formula, run in runs:
            said, _ = run.communicate()
            wrong = verdict(formula, run.returncode, said)
            say(f"   {'GREEN' if wrong else 'red'}  {formula.what}")
            found += [wrong] if wrong else []
    took = time.monotonic() - began
    say(f"{len(chosen) - len(found)} of {len(chosen)} broken formulas turn their test red ({took:.0f} s)")
    for wrong in found:
        say(wrong)
    return 1 if found else 0


if __name__ == "__main__":
    arguments = sys.argv[1:]
    if arguments[:1] == ["--one"]:
        sys.exit(run_one(int(arguments[1])))
    sys.exit(main(arguments[0] if arguments else ""))
