"""The metrics requested with ``--also``."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import PairScore
    from correlate.metrics import Evaluation
    from correlate.signal import Signal


def evaluate_also(
    names: Sequence[str], score: PairScore, *, tests: Sequence[Signal], model: Signal
) -> tuple[Evaluation, ...]:
    """Let further measures speak about a rated pair.

    Parameters
    ----------
    names
        Values of ``--also``.
    score
        The rated pair.
    tests
        Its test as read, and the other repeats.
    model
        Its model as read.

    Returns
    -------
    tuple of Evaluation

    Raises
    ------
    CorrelateError
        There is no measure of a name, or a repeat cannot be brought onto the grid of the pair.
    """
    from correlate.metrics import evaluate_measures  # noqa: PLC0415 - help must stay quick
    from correlate.metrics.repeats import align_repeats  # noqa: PLC0415

    pair = score.rating.pair
    if len(tests) == 1:
        return evaluate_measures(names, pair)
    interval = replace(score.recipe, start_s=float(pair.time[0]), end_s=float(pair.time[-1]))
    return evaluate_measures(names, pair, repeats=align_repeats(tests, [model], interval))
