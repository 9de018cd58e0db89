"""The emulator of a project: the curves of its runs, read and fitted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError
from correlate.evaluation.tables import RATING
from correlate.tuning.curve_rating import CurveRater
from correlate.tuning.emulator import fit_emulator
from correlate.tuning.rating import RunRater
from correlate.tuning.traces import read_traces

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.metrics.iso18571 import RatingSettings
    from correlate.tuning.definition import Tuning
    from correlate.tuning.emulator import CurveEmulator
    from correlate.tuning.runs import RunTable, TuningState
    from correlate.tuning.traces import TraceTable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedCurves:
    """The emulator of a project and what rates its curves.

    Attributes
    ----------
    traces
        Of the finished runs.
    emulator
        Fitted to them.
    rater
        Of its curves.
    """

    traces: TraceTable
    emulator: CurveEmulator
    rater: CurveRater

    @property
    def settings(self) -> RatingSettings:
        """Settings by which curves are rated."""
        return self.rater.settings


def fit_curves(
    tuning: Tuning,
    state: TuningState,
    table: RunTable,
    *,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> FittedCurves:
    """Read the curves of the finished runs of a project and fit the emulator to them.

    Parameters
    ----------
    tuning, state, table
        The project, its records and runs.
    progress
        Called with the progress, from 0 to 1, and the current step.

    Returns
    -------
    FittedCurves

    Raises
    ------
    CorrelateError
        The main metric of the campaign is not the rating, too few runs are finished, or their results
        can no longer be read.
    """
    rater = RunRater(tuning)
    main = rater.campaign.scoring.main
    if main != RATING:
        raise SettingsError(
            f"the main metric of the campaign is '{main}', but emulated curves are rated by '{RATING}'",
            where=str(rater.campaign.path),
        )
    traces = read_traces(
        tuning,
        rater,
        state,
        table,
        progress=lambda done, every: progress(
            _READING * done / every, f"reading the curves of {done} of {every} runs"
        ),
    )
    emulator = fit_emulator(
        traces, progress=lambda done, words: progress(_READING + (1 - _READING) * done, words)
    )
    return FittedCurves(traces=traces, emulator=emulator, rater=CurveRater(rater, traces.channels))


_READING: Final = 0.3
