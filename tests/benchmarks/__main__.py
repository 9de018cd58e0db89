"""Run every comparison: ``python -m tests.benchmarks``."""

from __future__ import annotations

import os

# One core each, so that ratios compare algorithms.
os.environ.setdefault("OMP_NUM_THREADS", "1")

from tests.benchmarks import campaign, command_line, rating, reading
from tests.benchmarks.table import table


def main() -> None:
    """Print the tables."""
    print(f"Measured on {os.cpu_count()} cores.\n")
    print(table([*rating.rows(), *reading.rows(), *command_line.rows()]))
    print("\n" + rating.growth())
    print(
        f"\nPeak extra memory of one rating at 35,000 samples: {rating.peak_memory_mb():.0f} MB (goal 300)."
    )
    print("\n" + campaign.report(campaign.measure()))


if __name__ == "__main__":
    main()
