"""handfast schema."""

from __future__ import annotations

from pathlib import Path

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.screen import say
from handfast.files.schema_files import schema_texts


def do_schema(out: str) -> int:
    """Write the schema of each project file, and tell how to point a file at its own."""
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in schema_texts().items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
            say(f"wrote {folder / name}")
    except OSError as error:
        raise UnusableError(f"{out}: cannot be written: {error.strerror}") from error
    say(f"first line of product.yaml: `# yaml-language-server: $schema={folder.name}/product.schema.json`")
    return YES
