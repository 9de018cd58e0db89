"""Saved predictions, compared with the ratings of the runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.display import short_repr
from correlate.tuning.predicted import calibration_of
from correlate.tuning.proposals import batch_file, last_round, read_batch
from correlate.tuning.release import row_of_proposal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.tuning.definition import Tuning
    from correlate.tuning.predicted import Calibration, Predicted
    from correlate.tuning.runs import RunTable, TuningState


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPrediction:
    """One outcome of one proposed run that has been rated.

    Attributes
    ----------
    round
        Number of the batch.
    identity
        Of the design point.
    outcome
        Its name.
    predicted
        What was expected when the run was proposed.
    rated
        The result.
    """

    round: int
    identity: str
    outcome: str
    predicted: Predicted
    rated: float

    @property
    def error(self) -> float:
        """Result minus prediction."""
        return self.rated - self.predicted.mean

    @property
    def inside(self) -> bool:
        """Whether the result is inside the 95 % interval."""
        return self.predicted.low <= self.rated <= self.predicted.high


def kept_predictions(tuning: Tuning, state: TuningState, table: RunTable) -> tuple[KeptPrediction, ...]:
    """Return the predictions of every batch whose runs are rated, in the order of the batches.

    Parameters
    ----------
    tuning, state, table
        The project, its points and records, and its runs.

    Returns
    -------
    tuple of KeptPrediction
        Empty when nothing was proposed, or no proposed run is finished. Rounds that were added to the design
        by hand have no predictions and are left out.

    Raises
    ------
    FormatError
        The file of a batch cannot be read.
    """
    found = []
    for number in range(1, last_round(state) + 1):
        if not batch_file(tuning, number).exists():
            continue
        for proposal in read_batch(tuning, number):
            row = row_of_proposal(table, proposal)
            if row is None or not table.done[row]:
                continue
            found += [
                KeptPrediction(
                    round=number,
                    identity=table.identities[row],
                    outcome=name,
                    predicted=said,
                    rated=float(table.outcomes[name][row]),
                )
                for name, said in proposal.predicted.items()
                if name in table.outcomes and np.isfinite(table.outcomes[name][row])
            ]
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictionRecord:
    """How accurate the predictions of one outcome were.

    Attributes
    ----------
    runs
        How many were compared; 1 or more.
    inside
        How many of them were inside their 95 % intervals.
    mean_error
        Rated minus predicted, on average: above 0 where predictions were too low.
    root_mean_square_error
        Size of the errors, in the unit of the outcome.
    """

    runs: int
    inside: int
    mean_error: float
    root_mean_square_error: float


def record_of(found: Sequence[KeptPrediction]) -> PredictionRecord | None:
    """Summarise the predictions of one outcome; None without any."""
    if not found:
        return None
    errors = np.array([one.error for one in found])
    return PredictionRecord(
        runs=len(found),
        inside=sum(one.inside for one in found),
        mean_error=float(errors.mean()),
        root_mean_square_error=float(np.sqrt(np.mean(errors**2))),
    )


def calibrations(found: Sequence[KeptPrediction]) -> dict[str, Calibration]:
    """Return, for each outcome, the calibration that follows from its saved predictions."""
    outcomes = dict.fromkeys(one.outcome for one in found)
    return {
        name: calibration_of([(one.round, one.predicted, one.rated) for one in found if one.outcome == name])
        for name in outcomes
    }


def calibration_words(found: Sequence[KeptPrediction], outcomes: Sequence[str]) -> tuple[str, ...]:
    """State in one sentence per outcome how accurate its predictions were, and what follows for the next."""
    words = []
    for outcome in outcomes:
        mine = [one for one in found if one.outcome == outcome]
        record = record_of(mine)
        if record is None:
            continue
        said = calibrations(mine)[outcome]
        error = f"{record.mean_error:+.4f}".replace("-", "−")
        words.append(
            f"Predictions of '{outcome}' so far: {record.inside} of {record.runs} inside their 95 % "
            f"intervals, mean error {error}; the next intervals are {said.widening:.1f} times as wide as the "
            "emulator's own"
        )
    return tuple(words)
