"""Slips of the pen, written down as the user would make them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from handfast.model.finding import Finding


@dataclass(frozen=True)
class Slip:
    """One slip.

    file: edited; old, new: what stood there and what was written instead; rule: that tells of it;
    expected, found, fix: words of the finding.
    """

    file: str
    old: str
    new: str
    rule: str
    expected: str
    found: str
    fix: str

    @property
    def name(self) -> str:
        """For the test report."""
        return f"{self.rule}: {self.new.strip()[:50]}"


def read_slips(path: Path) -> list[Slip]:
    """From blocks of three lines: FILE: what stands there, wrote: ..., RULE | expected | found | fix."""
    return [_slip(*block.splitlines()) for block in path.read_text().strip().split("\n\n")]


def _slip(right: str, wrong: str, told: str) -> Slip:
    file, _, old = right.partition(": ")
    new = wrong.partition("wrote:")[2].removeprefix(" ")
    old, new = (text.replace("\\n", "\n") for text in (old, new))
    rule, expected, found, fix = (words.strip() for words in told.split("|"))
    return Slip(file, old, new, rule, expected, found, fix)


def the_one(findings: tuple[Finding, ...], slip: Slip) -> Finding:
    """The finding that tells of the slip; fails if there is none, or if it says something else."""
    mine = [f for f in findings if f.rule == slip.rule]
    assert mine, findings
    right = [f for f in mine if slip.expected in f.expected and slip.found in f.found and slip.fix in f.fix]
    assert right, mine
    return right[0]
