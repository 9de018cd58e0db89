"""How far a cross-plot lies from a mean path, with a sign, in both directions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.reference.arc_length import points_by_arc_length

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.reference.arc_length import CrossPlot
    from correlate.reference.cross_plot import CrossPlotCorridor

    Floats = NDArray[np.float64]

REACH: Final = 0.15
"""Points are compared whose shares of the arc differ by no more than this, so that loading is never compared
with unloading. Chosen here."""
DENSER: Final = 5
"""Points of the candidate for each station of the mean."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PathDeviation:
    """The distance between a mean path and a candidate, with a sign, in both directions.

    Distances are in the plane whose axes are divided by the scales of the corridor, so 0.1 is a tenth of the
    largest value of an axis. They are positive where the candidate lies to the left of the mean path, looking
    along it.

    Attributes
    ----------
    share
        Shape ``(m,)``: share of the mean's arc.
    from_mean
        Shape ``(m,)``: from each point of the mean to the nearest of the candidate.
    candidate_share
        Shape ``(k,)``: share of the candidate's arc.
    from_candidate
        Shape ``(k,)``: from the nearest point of the mean to each point of the candidate.
    """

    share: Floats
    from_mean: Floats
    candidate_share: Floats
    from_candidate: Floats

    @property
    def mean(self) -> float:
        """Mean with its sign over both directions: on which side the candidate lies."""
        return float((self.from_mean.mean() + self.from_candidate.mean()) / 2)

    @property
    def rms(self) -> float:
        """Root mean square over both directions, 0 or more."""
        squares = (self.from_mean**2).mean() + (self.from_candidate**2).mean()
        return float(np.sqrt(squares / 2))

    @property
    def largest(self) -> float:
        """Largest size in either direction: the Hausdorff distance where no reach limits it."""
        return float(max(np.abs(self.from_mean).max(), np.abs(self.from_candidate).max()))


def path_deviation(
    corridor: CrossPlotCorridor, candidate: CrossPlot, *, reach: float = REACH
) -> PathDeviation:
    """Measure how far a candidate lies from the mean path, in both directions.

    A candidate that goes beyond the mean, or stops before its end, is seen from one side only; therefore
    both directions are given.

    Parameters
    ----------
    corridor
        Its mean path and scales.
    candidate
        Of some length.
    reach
        Largest difference of shares of the arc between points that are compared, above 0.

    Returns
    -------
    PathDeviation

    Raises
    ------
    SettingsError
        `reach` is not above 0.
    SignalError
        The candidate never leaves its first point.

    References
    ----------
    .. [1] Distance from a point to a polyline in both directions, as in the Hausdorff distance: any textbook.
       Sign by side and reach along the arc: derived here.
    """
    if not reach > 0:
        raise SettingsError(f"the reach along the arc is {reach!r}", remedy="give a share of the arc above 0")
    scales = np.array([corridor.x_scale, corridor.y_scale])
    mean = np.stack([corridor.x, corridor.y]) / scales[:, None]
    share = np.linspace(0.0, 1.0, DENSER * (corridor.share.size - 1) + 1)
    other = points_by_arc_length(candidate, share, (corridor.x_scale, corridor.y_scale)) / scales[:, None]
    to_candidate, _ = _nearest(mean, corridor.share, other, share, reach)
    away_from_mean, place = _nearest(other, share, mean, corridor.share, reach)
    return PathDeviation(
        share=corridor.share,
        from_mean=_signed(np.gradient(mean, axis=1), to_candidate),
        candidate_share=share,
        # Seen from the mean, so that one sign means one side.
        from_candidate=_signed(np.diff(mean, axis=1)[:, place], -away_from_mean),
    )


def _nearest(
    points: Floats, at: Floats, line: Floats, line_at: Floats, reach: float
) -> tuple[Floats, NDArray[np.intp]]:
    """Return the step from each point to the nearest of a polyline, shape ``(2, n)``, and its segment."""
    start, along = line[:, :-1], np.diff(line, axis=1)
    square = np.maximum((along**2).sum(axis=0), 1e-300)
    between = points[:, :, None] - start[:, None, :]
    part = np.clip((between * along[:, None, :]).sum(axis=0) / square, 0.0, 1.0)
    step = part * along[:, None, :] - between
    distance = (step**2).sum(axis=0)
    apart = np.abs((line_at[:-1] + part * np.diff(line_at)) - at[:, None])
    # Where nothing is within reach, the nearest along the arc is taken.
    distance = np.where(apart <= np.maximum(reach, apart.min(axis=1, keepdims=True)), distance, np.inf)
    segment = distance.argmin(axis=1)
    return step[:, np.arange(points.shape[1]), segment], segment


def _signed(tangents: Floats, steps: Floats) -> Floats:
    side = tangents[0] * steps[1] - tangents[1] * steps[0]
    return np.asarray(np.where(side < 0, -1.0, 1.0) * np.hypot(steps[0], steps[1]))
