"""`python -m mltassist` is the command."""

from __future__ import annotations

import sys


def start() -> None:
    """Run the command line; whoever stops it while it loads gets no traceback."""
    try:
        from mltassist.cli.stopping import heed_stops  # noqa: PLC0415 - first of all

        heed_stops()
        from mltassist.cli.main import main  # noqa: PLC0415 - an interrupt meanwhile is caught
    except KeyboardInterrupt:
        sys.exit(130)
    main()


if __name__ == "__main__":
    start()
