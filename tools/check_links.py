"""Check that every relative link in the Markdown pages leads to a file and, where named, to a heading."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)(?:\s+\"[^\"]*\")?\)")
HEADING = re.compile(r"^#+\s+(.*?)\s*#*$", re.MULTILINE)
CODE = re.compile(r"```.*?```|`[^`\n]*`", re.DOTALL)


def pages(root: Path) -> list[Path]:
    """Return the Markdown files at the top and under docs/ and projects/."""
    return sorted([*root.glob("*.md"), *root.glob("docs/**/*.md"), *root.glob("projects/**/*.md")])


def anchors(page: Path) -> set[str]:
    """Return the names that links can use for the headings of a page (lower case, dashes for spaces)."""
    titles = HEADING.findall(page.read_text(encoding="utf-8"))
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


def broken_links(page: Path) -> Iterator[str]:
    """Yield the targets of a page's relative links that do not exist."""
    prose = CODE.sub("", page.read_text(encoding="utf-8"))
    for target in LINK.findall(prose):
        if "://" in target or target.startswith("mailto:"):
            continue
        path, _, anchor = target.partition("#")
        file = page.parent / path if path else page
        if not file.exists() or (anchor and file.suffix == ".md" and anchor not in anchors(file)):
            yield target


def main() -> int:
    """Print each broken link; return 1 if there is one, or if there is no page at all."""
    found = pages(ROOT)
    broken = [(page, target) for page in found for target in broken_links(page)]
    for page, target in broken:
        print(f"{page.relative_to(ROOT)}: link to {target!r} leads nowhere")
    print(f"{len(found)} pages, {len(broken)} broken links")
    return 1 if broken or not found else 0


if __name__ == "__main__":
    sys.exit(main())
