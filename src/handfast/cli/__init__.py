"""The command line: one verb per command, answers on screen or as JSON."""

from __future__ import annotations


def main() -> None:
    """The entry point of the program `handfast`."""
    import sys

    try:
        from handfast.cli.app import start

        start()
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
