"""How likely a run is to end well, guessed from the runs that did and did not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.tuning.likelihood import fit_process

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.gaussian_process import GaussianProcess
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SuccessModel:
    """Guess of the chance that a run ends well.

    Attributes
    ----------
    process
        Of 1 for a run that ended well and 0 for one that did not; None when all ended alike.
    share
        Of the runs that ended well.
    """

    process: GaussianProcess | None
    share: float

    def chance(self, cube: Floats) -> Floats:
        """Return the chance at points of the unit cube, shape ``(m, d)``; between 0 and 1."""
        if self.process is None:
            return np.full(len(cube), self.share)
        return np.clip(self.process.mean(cube), 0.0, 1.0)


def fit_success(table: RunTable) -> SuccessModel:
    """Fit the chance of success to all runs that ended.

    Parameters
    ----------
    table
        Of the runs; those that wait say nothing.

    Returns
    -------
    SuccessModel
        A regression on 1 and 0, cut to that range: simple, and right where runs are dense. It is no
        classifier, and far from every failed run it returns to the share of good runs.
    """
    ended = np.flatnonzero(table.ended)
    good = table.done[ended].astype(np.float64)
    if good.size == 0 or np.ptp(good) == 0:
        return SuccessModel(process=None, share=float(good.mean()) if good.size else 1.0)
    cube = table.space.to_unit(table.points[ended])
    return SuccessModel(process=fit_process(cube, good), share=float(good.mean()))
