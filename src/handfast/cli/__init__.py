"""The command line: one verb per command, answers on screen or as JSON."""

from __future__ import annotations


def main() -> None:
    """The entry point of the program `handfast`."""
    from handfast.cli.app import start

    start()
