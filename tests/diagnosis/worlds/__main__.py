"""``python -m tests.diagnosis.worlds FAMILY [COUNT [SEED]]``: what the faults of a family do to ratings."""

from __future__ import annotations

import time
from collections import defaultdict

import click
import numpy as np

from tests.diagnosis.worlds.cases import WorldCase, cases, ratings
from tests.diagnosis.worlds.families import FAMILIES
from tests.diagnosis.worlds.faults import KINDS


def case_ratings(case: WorldCase) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return the ratings of one case, ``(2, channels)``."""
    family = FAMILIES[case.family]
    return np.array(
        [
            ratings(
                family,
                np.stack([channel.tests for channel in load_case.channels], axis=1)[np.newaxis],
                np.stack([channel.model for channel in load_case.channels])[np.newaxis],
            )[0]
            for load_case in case.load_cases
        ]
    )


@click.command()
@click.argument("family", type=click.Choice(list(FAMILIES)))
@click.argument("count", type=int, default=180)
@click.argument("seed", type=int, default=1)
def main(family: str, count: int, seed: int) -> None:
    """Print the median rating of each channel by kind of fault, and the share that could be planted."""
    begin = time.perf_counter()
    groups: dict[str, list[WorldCase]] = defaultdict(list)
    for case in [*cases(family, count // 9, seed=seed, faults=0), *cases(family, count, seed=seed)]:
        groups[case.faults[0].kind if case.faults else "honest"].append(case)
    names = [name for name, _, _ in FAMILIES[family].channels]
    click.echo(f"{'':14}{'cases':>6}{'planted':>9}  " + "  ".join(f"{name:>22}" for name in names))
    for kind in ("honest", *KINDS):
        if not groups[kind]:
            click.echo(f"{kind:14}{0:6}{0.0:9.2f}")
            continue
        medians = np.median([case_ratings(case).mean(axis=0) for case in groups[kind]], axis=0)
        share = 1.0 if kind == "honest" else len(groups[kind]) / (count / len(KINDS))
        click.echo(
            f"{kind:14}{len(groups[kind]):6}{share:9.2f}  "
            + "  ".join(f"{median:22.3f}" for median in medians)
        )
    click.echo(f"{time.perf_counter() - begin:.1f} s")


if __name__ == "__main__":
    main()
