"""Where rating points are lost: the loss, divided among components and over time.

Corridor: the loss of a sample is what its own score lacks. Magnitude: each step of the warping path holds its
part of the error sum, booked at the sample of the test it touches. Slope: each sample holds its part of the
error sum of the smoothed derivatives. Phase: one shift of the whole curve, so it has no place in time and is
spread evenly where a curve over time is wanted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.metrics.iso18571.rating import shifted
from correlate.metrics.iso18571.scores import corridor_scores, smoothed_slope
from correlate.statistics import mean_of_repeats

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.metrics.iso18571 import Rating

    Floats = NDArray[np.float64]

COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
"""In the order of the standard."""

BIN_S: Final = 0.005
"""Width of a bin, s."""


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class LossBins:
    """A loss account summed over bins of time.

    Attributes
    ----------
    edges_s
        Shape ``(k + 1,)``: whole multiples of the width, s.
    by_component
        Shape ``(k,)`` each, rating points.
    """

    edges_s: NDArray[np.float64]
    by_component: dict[str, NDArray[np.float64]]

    @property
    def total(self) -> NDArray[np.float64]:
        """Loss of every bin, shape ``(k,)``, rating points."""
        return np.asarray(sum(self.by_component.values()), dtype=np.float64)


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class LossAccount:
    """The lost rating of one pair, by component and by sample; all parts add up to ``1 - overall``.

    Attributes
    ----------
    time
        Shape ``(n,)``, s.
    by_sample
        By component, shape ``(n,)`` each, rating points: weight and the component's own scale are in.
    by_component
        Sum of each over all samples.
    total
        ``1 - overall``.
    clamped
        Components whose error lies beyond the limit, so that their score is 0 whatever the rest of the error
        is: their whole loss is shared out in proportion to the error.
    """

    time: NDArray[np.float64]
    by_sample: dict[str, NDArray[np.float64]]
    by_component: dict[str, float]
    total: float
    clamped: tuple[str, ...]

    @property
    def phase_loss(self) -> float:
        """Rating points lost to the one shift of the whole curve."""
        return self.by_component["phase"]

    def bins(self, width_s: float = BIN_S) -> LossBins:
        """Sum over bins of time.

        Parameters
        ----------
        width_s
            Width of a bin, s.

        Returns
        -------
        LossBins

        Raises
        ------
        SettingsError
            The width is not above zero, or below the step of the pair.
        """
        step_s = float(self.time[-1] - self.time[0]) / (self.time.size - 1)
        if not width_s >= step_s * (1 - 1e-9):
            raise SettingsError(
                f"bins of {width_s:g} s are narrower than the time step of {step_s:.6g} s",
                remedy="choose wider bins",
            )
        # Times are multiples of the step up to rounding; a hair keeps a sample on an edge in its own bin.
        numbers = np.floor(self.time / width_s + 1e-6).astype(np.int64)
        first, last = int(numbers[0]), int(numbers[-1])
        count = last - first + 1
        sums = {name: _sums(numbers - first, lost, count) for name, lost in self.by_sample.items()}
        return LossBins(np.arange(first, last + 2, dtype=np.float64) * width_s, sums)


@short_repr
@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the time in which much is lost.

    Attributes
    ----------
    start_s, end_s
        In s.
    loss
        Rating points lost in it, the phase left out.
    by_component
        The same by component.
    mostly
        The component that loses most in it.
    """

    start_s: float
    end_s: float
    loss: float
    by_component: dict[str, float]
    mostly: str


def account_for_loss(rating: Rating) -> LossAccount:
    r"""Share the lost rating out over components and samples.

    .. math:: 1 - R = \sum_k \frac{w_k}{\sum w} (1 - S_k) = \sum_k \sum_i l_{k,i}

    .. math:: l_{Z,i} = w_Z \frac{1 - z_i}{n}, \quad
              l_{M,i} = w_M (1 - E_M) \frac{\sum_{(i,j)} |C_j - T_i|}{\sum |C_w - T_w|}, \quad
              l_{S,i} = w_S (1 - E_S) \frac{|C'_i - T'_i|}{\sum |C' - T'|}

    Parameters
    ----------
    rating
        From :func:`correlate.rate`.

    Returns
    -------
    LossAccount

    Notes
    -----
    As long as a score is not clamped at 0, :math:`1 - E = \varepsilon / \varepsilon_{\max}`, so the shares of
    magnitude and slope are exact: halving the error of a sample would win half of its entry back, with path
    and shift held.

    References
    ----------
    .. [1] Derived here from the definitions of ISO/TS 18571:2014.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import AlignedPair, rate
    >>> time = np.arange(500) * 1e-4
    >>> test = np.sin(np.pi * time / 0.05)
    >>> account = account_for_loss(rate(AlignedPair(time=time, reference=test, candidate=1.2 * test)))
    >>> round(sum(account.by_component.values()) - account.total, 12)
    0.0
    """
    shares = {
        "corridor": _corridor_errors(rating),
        "phase": np.ones(rating.samples),
        "magnitude": _magnitude_errors(rating),
        "slope": _slope_errors(rating),
    }
    weights = {name: float(getattr(rating.settings.weights, name)) for name in COMPONENTS}
    whole = sum(weights.values())
    losses = {name: weights[name] / whole * (1.0 - getattr(rating, name)) for name in COMPONENTS}
    return LossAccount(
        time=rating.pair.time,
        by_sample={name: _shared_out(losses[name], shares[name]) for name in COMPONENTS},
        by_component=losses,
        total=1.0 - rating.overall,
        clamped=_clamped(rating),
    )


def mean_account(accounts: Sequence[LossAccount]) -> LossAccount:
    """Average the accounts of several pairs on one time grid: the mean loss, shared out.

    Parameters
    ----------
    accounts
        Of the same model against several repeats; at least one.

    Returns
    -------
    LossAccount
        Its total is 1 minus the mean of the ratings; ``clamped`` names what is clamped in any of them.

    References
    ----------
    .. [1] Derived here: the loss is a sum over samples, so its mean is the sum of the means.
    """
    return LossAccount(
        time=accounts[0].time,
        by_sample={name: np.mean([one.by_sample[name] for one in accounts], axis=0) for name in COMPONENTS},
        by_component={
            name: mean_of_repeats([one.by_component[name] for one in accounts]) for name in COMPONENTS
        },
        total=mean_of_repeats([one.total for one in accounts]),
        clamped=tuple(name for name in COMPONENTS if any(name in one.clamped for one in accounts)),
    )


def largest_stretches(account: LossAccount, count: int, *, width_s: float = BIN_S) -> tuple[Stretch, ...]:
    """Find where in time most is lost.

    Bins that lose more than the average bin are joined with their neighbours that do; the phase, which has no
    place in time, is left out.

    Parameters
    ----------
    account
        From :func:`account_for_loss`.
    count
        Most stretches to return.
    width_s
        Width of a bin, s.

    Returns
    -------
    tuple of Stretch
        The costliest first.

    References
    ----------
    .. [1] Derived here.
    """
    bins = account.bins(width_s)
    placed = {name: lost for name, lost in bins.by_component.items() if name != "phase"}
    total = np.asarray(sum(placed.values()))
    high = np.concatenate([[False], total > total.mean(), [False]])
    edges = np.flatnonzero(np.diff(high.astype(np.int8)))
    found = [
        _stretch(bins.edges_s, placed, int(first), int(last))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    ]
    return tuple(sorted(found, key=lambda one: -one.loss)[:count])


def _stretch(edges_s: Floats, placed: dict[str, Floats], first: int, last: int) -> Stretch:
    sums = {name: float(lost[first:last].sum()) for name, lost in placed.items()}
    mostly = max(sums, key=lambda name: sums[name])
    return Stretch(float(edges_s[first]), float(edges_s[last]), sum(sums.values()), sums, mostly)


def _sums(places: NDArray[np.integer], values: Floats, count: int) -> Floats:
    """Add up the values that belong to one place."""
    return np.asarray(np.bincount(places, weights=values, minlength=count), dtype=np.float64)


def _shared_out(loss: float, errors: Floats) -> Floats:
    """Divide a loss in proportion to the errors; evenly where there is a loss without an error."""
    total = float(errors.sum())
    if total == 0.0:
        return np.full(errors.size, loss / errors.size)
    # Errors first: divided by a sum near the smallest number, a loss would overflow.
    return np.asarray(loss * (errors / total), dtype=np.float64)


def _corridor_errors(rating: Rating) -> Floats:
    return np.asarray(1.0 - corridor_scores(rating.pair, rating.settings), dtype=np.float64)


def _magnitude_errors(rating: Rating) -> Floats:
    path = rating.warping_path()
    differences = np.abs(rating.pair.candidate[path[:, 1]] - rating.pair.reference[path[:, 0]])
    return _sums(path[:, 0], differences, rating.samples)


def _slope_errors(rating: Rating) -> Floats:
    step_s = rating.pair.step_s
    reference, candidate = shifted(rating.pair, rating.shift_samples)
    expected = smoothed_slope(reference, step_s, rating.settings)
    start = max(0, -rating.shift_samples)
    errors = np.zeros(rating.samples)
    errors[start : start + reference.size] = np.abs(
        smoothed_slope(candidate, step_s, rating.settings) - expected
    )
    return errors


def _clamped(rating: Rating) -> tuple[str, ...]:
    limits = {"magnitude": rating.settings.magnitude_limit, "slope": rating.settings.slope_limit}
    return tuple(name for name, limit in limits.items() if getattr(rating.ingredients, name).error > limit)
