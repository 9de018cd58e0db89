"""What the tests say of the cards, on problems with known cards: ``python -m tests.benchmarks.cards``."""

from __future__ import annotations

import sys
from collections import Counter
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.discrepancy import fit_model, gaps_left, sample_cards
from correlate.tuning.gaussian_process import matern
from correlate.tuning.identifiability import identify
from correlate.tuning.repeat_scatter import repeat_scatter
from tests.tuning.card_problems import SPACE, TIME, problem, responses

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIED: Final = {"foam_modulus", "rib_stiffness"}
BUMP: Final = 0.15
"""Height of a bump that the model lacks, as a share of the peak of the channel."""
WIDTH_S: Final = 0.004
"""Its standard deviation."""
STEPS: Final = 1200
"""Most steps of the walkers, fewer where they have converged."""
SMOOTH: Final = 0.05
"""Standard deviation of a smooth discrepancy of every channel, as a share of its peak."""


def ties(seeds: int, *, determined: bool) -> tuple[int, int]:
    """Count designs of which the tie of the two springs is told, and those of which something else is.

    Parameters
    ----------
    seeds
        Designs of 30 runs, tests and points.
    determined
        Whether the deflection of one spring alone is measured.

    Returns
    -------
    tuple of int
    """
    found = others = 0
    for seed in range(seeds):
        random = np.random.default_rng(1000 + seed)
        point = random.uniform(0.15, 0.85, len(SPACE.names))
        curves = problem(determined=determined, seed=seed).tested(point, random)
        told = identify(curves, repeat_scatter(curves), SPACE, point).loose
        found += any(set(one.names) == TIED for one in told)
        others += any(set(one.names) != TIED for one in told)
    return found, others


def wrong_by(kind: str, random: np.random.Generator) -> tuple[dict[tuple[str, str], Floats], float]:
    """Draw what the model lacks: nothing, a smooth curve in every channel, or a bump in one at some time."""
    curves = responses(np.full(len(SPACE.names), 0.5))
    sizes = {key: float(np.abs(curve).max()) for key, curve in curves.items() if key[0] != "foam"}
    if kind == "none":
        return {}, np.nan
    if kind == "smooth":
        away = np.abs(TIME[:, None] - TIME) / (0.2 * TIME[-1])
        root = np.linalg.cholesky(matern(away, 2.5) + 1e-9 * np.eye(TIME.size))
        return {
            key: SMOOTH * size * (root @ random.standard_normal(TIME.size)) for key, size in sizes.items()
        }, np.nan
    key = list(sizes)[random.integers(len(sizes))]
    place = float(random.uniform(0.1, 0.9) * TIME[-1])
    return {key: BUMP * sizes[key] * np.exp(-0.5 * ((TIME - place) / WIDTH_S) ** 2)}, place


def cards(kind: str, problems: int, *, determined: bool, designs: int = 6) -> Mapping[str, int]:
    """Count what is said of simulated problems.

    Parameters
    ----------
    kind
        ``none``, ``smooth`` or ``bump``: what the model lacks.
    problems, designs
        Problems, and designs of 30 runs that they share.
    determined
        Whether the deflection of one spring alone is measured.

    Returns
    -------
    Mapping
        ``inside`` of ``intervals``; problems with a window where the model is wrong, ``found``, and with one
        where it is not, ``false``.
    """
    said: Counter[str] = Counter(problems=problems)
    made = [problem(determined=determined, seed=seed) for seed in range(designs)]
    for number in range(problems):
        random = np.random.default_rng([number, determined, len(kind)])
        point = random.uniform(0.05, 0.95, len(SPACE.names))
        wrong, place = wrong_by(kind, random)
        curves = made[number % designs].tested(point, random, wrong=wrong)
        model, optimum = fit_model(curves, repeat_scatter(curves), np.full(point.size, 0.5))
        sampled = sample_cards(model, optimum, seed=number, most_steps=STEPS)
        low, high = np.quantile(sampled.draws, [0.025, 0.975], axis=0)
        said["inside"] += int(((point >= low) & (point <= high)).sum())
        said["intervals"] += point.size
        found, false = False, False
        for one, gap in zip(curves.channels, gaps_left(model, optimum, sampled.draws), strict=True):
            for window in gap.windows:
                start, end = one.ends_s(*window)
                here = (one.channel.load_case, one.channel.channel) in wrong
                near = here and not (place < start - 2 * WIDTH_S or place > end + 2 * WIDTH_S)
                found, false = found or near, false or not near
        said["found"] += found
        said["false"] += false
    return said


def report(problems: int) -> str:
    """Return the figures of docs/tuning-method.md."""
    lines = []
    for determined in (False, True):
        words = "one spring measured alone" if determined else "two springs in series"
        found, others = ties(problems, determined=determined)
        lines.append(f"{words}: tie found in {found} of {problems}, something else in {others}")
        for kind in ("none", "smooth", "bump"):
            said = cards(kind, problems, determined=determined)
            lines.append(
                f"{words}, model lacks {kind}: 95 % intervals hold {said['inside']} of {said['intervals']}; "
                f"found in {said['found']} of {problems}, other windows in {said['false']}"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    print(report(int(sys.argv[1]) if len(sys.argv) > 1 else 120))
