"""A program that adds lines to an audit trail, as many as it is told, once its input ends."""

from __future__ import annotations

import os
import sys

from dashboard.accounts import AuditTrail, open_accounts


def main(place: str, lines: int) -> None:
    """Add the lines."""
    engine = open_accounts(place)
    sys.stdin.read()
    for number in range(lines):
        AuditTrail(engine).add(who=f"program {os.getpid()}", what=f"deed {number}")
    engine.dispose()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
