"""Run a deck: ``python -m demo_pairs.solver DECK --out DIR [--case NAME ...]``."""

import argparse
import sys
from pathlib import Path

from demo_pairs.solver.deck import DeckError


def main() -> int:
    """Run the command line; 0 when every load case was written, 2 for a bad deck, 1 for a failed run."""
    parser = argparse.ArgumentParser(prog="python -m demo_pairs.solver", description="Run a deck.")
    parser.add_argument("deck", type=Path, help="plain-text deck with material parameters and load cases")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the results")
    parser.add_argument(
        "--case", action="append", default=[], metavar="NAME", help="only this load case (repeatable)"
    )
    options = parser.parse_args()
    from demo_pairs.solver.run import run_deck  # noqa: PLC0415  (so that --help is quick)

    try:
        run_deck(options.deck, options.out, tuple(options.case))
    except DeckError as error:
        print(error, file=sys.stderr)  # noqa: T201
        return 2
    except OSError as error:
        print(f"{options.out}: this cannot be written ({error.strerror})", file=sys.stderr)  # noqa: T201
        return 1
    except ArithmeticError as error:
        print(f"{options.deck}: {error}", file=sys.stderr)  # noqa: T201
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
