"""The command line: one verb per command, answers on screen or as JSON."""

from __future__ import annotations


def main() -> None:
    """The entry point of the program `handfast`."""
    import gc
    import sys

    # A command makes hundreds of thousands of small records and ends after a second: looking through all of
    # them for cycles again and again, and once more at the end, is a tenth of that.
    gc.set_threshold(50_000)
    try:
        from handfast.cli.app import start

        start()
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
    finally:
        gc.freeze()
