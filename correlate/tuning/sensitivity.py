"""Which parameters matter: screening and sensitivity indices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.extras import need_extra
from correlate.tuning.one_thread import in_one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]


_SAME: Final = 1e-9
_MOST_LEVELS: Final = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Screening:
    """Elementary effects of each parameter on one outcome, over its whole range.

    Attributes
    ----------
    outcome
        Its name.
    names
        Of the parameters.
    mean
        Mean effect, shape ``(d,)``, in the unit of the outcome a full range of the parameter.
    mean_size
        Mean of the absolute effects: how strongly the parameter moves the outcome.
    mean_size_half_width
        Of its 95 % interval, by bootstrap.
    spread
        Standard deviation of the effects: how much they depend on the other parameters, or bend.
    trajectories
        How many were complete.
    """

    outcome: str
    names: tuple[str, ...]
    mean: Floats
    mean_size: Floats
    mean_size_half_width: Floats
    spread: Floats
    trajectories: int


def trajectories(table: RunTable) -> list[NDArray[np.int64]]:
    """Find the trajectories of a table of runs."""
    cube = table.space.to_unit(table.points)
    size = len(table.space.names) + 1
    found: list[NDArray[np.int64]] = []
    first = 0
    while first + size <= len(cube):
        rows = np.arange(first, first + size)
        if _is_trajectory(cube[rows]):
            found.append(rows)
            first += size
        else:
            first += 1
    return found


def screen(table: RunTable, outcome: str, *, seed: int = 0) -> Screening:
    """Screen the parameters on runs of a Morris design.

    References
    ----------
    .. [1] M. D. Morris, Technometrics 33 (1991) 161-174; mean of absolute effects: Campolongo, Cariboni,
       Saltelli, Environmental Modelling and Software 22 (2007) 1509-1518; both as in SALib.
    """
    values = table.outcome(outcome)
    usable = table.done & np.isfinite(values)
    complete = [rows for rows in trajectories(table) if usable[rows].all()]
    if len(complete) < 2:
        raise SettingsError(
            f"{len(complete)} trajectories are complete, and screening needs two or more",
            remedy="create a design of the kind 'morris', or run what failed again",
        )
    need_extra("tuning", what="screening")
    from SALib.analyze import morris  # noqa: PLC0415 - slow to import

    names = table.space.names
    rows = np.concatenate(complete)
    cube = table.space.to_unit(table.points[rows])
    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    said = morris.analyze(problem, cube, np.array(values[rows]), num_levels=_levels(cube), seed=seed)
    return Screening(
        outcome=outcome,
        names=names,
        mean=np.asarray(said["mu"], dtype=np.float64),
        mean_size=np.asarray(said["mu_star"], dtype=np.float64),
        mean_size_half_width=np.asarray(said["mu_star_conf"], dtype=np.float64),
        spread=np.asarray(said["sigma"], dtype=np.float64),
        trajectories=len(complete),
    )


def _is_trajectory(cube: Floats) -> bool:
    steps = np.abs(np.diff(cube, axis=0))
    moved = steps > _SAME
    return bool((moved.sum(axis=1) == 1).all() and (moved.sum(axis=0) == 1).all())


def _levels(cube: Floats) -> int:
    r"""Return the levels p of the grid, from the step :math:`p / (2 (p - 1))` that Morris takes on it."""
    steps = np.abs(np.diff(cube, axis=0)).max(axis=1)
    size = len(cube[0]) + 1
    inside = np.arange(1, len(cube)) % size != 0
    for levels in range(2, _MOST_LEVELS + 1, 2):
        if np.allclose(steps[inside], levels / (2 * (levels - 1)), rtol=0, atol=1e-5):
            return levels
    raise SettingsError(
        "the steps of the trajectories are not those of one grid",
        remedy="do not change the points of a Morris design",
    )


POWER: Final = 10
"""Points of a base sample, as a power of two; each index costs one more sample of as many points."""
CONFIDENCE: Final = 0.95
_RESAMPLES: Final = 500
_LEVELS: Final = 33
_CHUNK: Final = 4096


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Indices:
    """Sobol' indices of one function with their intervals.

    Attributes
    ----------
    first
        Share of the variance that each parameter explains alone, shape ``(d,)``.
    first_low, first_high
        Ends of the 95 % interval.
    total
        Share that is gone when the parameter is held, shape ``(d,)``.
    total_low, total_high
        Ends of the 95 % interval.

    Notes
    -----
    The intervals are those of the sampling. How far the surrogate is from the solver, its Q² says.
    """

    first: Floats
    first_low: Floats
    first_high: Floats
    total: Floats
    total_low: Floats
    total_high: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """How the parameters move one outcome.

    Attributes
    ----------
    outcome
        Its name.
    names
        Of the parameters.
    q2
        Of the surrogate that was asked.
    indices
        Sobol' indices; all 0 for an outcome that nothing moves.
    change
        How far the mean outcome goes from its lowest to its highest while the parameter crosses its range
        and the others are averaged, in the unit of the outcome, shape ``(d,)``; negative where the highest
        is at a smaller value of the parameter than the lowest.
    """

    outcome: str
    names: tuple[str, ...]
    q2: float
    indices: Indices
    change: Floats

    def strongest(self, least: float = 0.05) -> tuple[str, ...]:
        """Name the parameters whose total index is ``least`` or more, strongest first."""
        order = np.argsort(-self.indices.total)
        return tuple(self.names[place] for place in order if self.indices.total[place] >= least)


def sobol_indices(
    function: Callable[[Floats], Floats], dimension: int, *, seed: int, power: int = POWER
) -> Indices:
    """Estimate the Sobol' indices of a function on the unit cube, with bootstrap intervals.

    Parameters
    ----------
    function
        Maps points of shape ``(n, d)`` to shape ``(n,)``.
    dimension
        Number of parameters.
    seed
        Of the sample and of the bootstrap.
    power
        Two to this power are the points of a base sample; ``d + 2`` of them are evaluated.

    Returns
    -------
    Indices

    Raises
    ------
    SettingsError
        The function gives the same everywhere.

    References
    ----------
    .. [1] Saltelli, Annoni, Azzini, Campolongo, Ratto, Tarantola, Computer Physics Communications 181 (2010)
       259-270, as in ``scipy.stats.sobol_indices``.
    """
    from scipy import stats  # noqa: PLC0415 - slow to import

    def columns(points: Floats) -> Floats:
        rows = np.ascontiguousarray(points.T)
        parts = [function(rows[first : first + _CHUNK]) for first in range(0, len(rows), _CHUNK)]
        values = np.concatenate(parts)
        if np.ptp(values) == 0:
            raise SettingsError("the function is the same everywhere, so there is no variance to divide")
        return values[None, :]

    if dimension == 1:  # all of the variance is that of the one; scipy asks for two or more
        columns(np.random.default_rng(seed).random((1, 2**power)))
        whole = np.ones(1)
        return Indices(
            first=whole, first_low=whole, first_high=whole, total=whole, total_low=whole, total_high=whole
        )
    evenly: Any = [stats.uniform()] * dimension
    found = stats.sobol_indices(func=columns, n=2**power, dists=evenly, rng=np.random.default_rng(seed))
    ends = found.bootstrap(confidence_level=CONFIDENCE, n_resamples=_RESAMPLES)
    first, total = ends.first_order.confidence_interval, ends.total_order.confidence_interval
    return Indices(
        first=np.ravel(found.first_order),
        first_low=np.ravel(first.low),
        first_high=np.ravel(first.high),
        total=np.ravel(found.total_order),
        total_low=np.ravel(total.low),
        total_high=np.ravel(total.high),
    )


@in_one_thread
def sensitivity(surrogate: Surrogate, *, seed: int = 0, power: int = POWER) -> Sensitivity:
    """Ask a surrogate which parameters move its outcome."""
    names = surrogate.space.names
    dimension = len(names)
    if surrogate.flat:
        none = np.zeros(dimension)
        indices = Indices(
            first=none, first_low=none, first_high=none, total=none, total_low=none, total_high=none
        )
        change = none
    else:
        indices = sobol_indices(surrogate.mean_cube, dimension, seed=seed, power=power)
        change = np.array([_change(surrogate, place, seed) for place in range(dimension)])
    return Sensitivity(
        outcome=surrogate.outcome, names=names, q2=surrogate.q2, indices=indices, change=change
    )


@in_one_thread
def sensitivities(
    surrogates: Iterable[Surrogate], *, seed: int = 0, power: int = POWER
) -> tuple[Sensitivity, ...]:
    """Ask many surrogates, for the table of what moves which component of which channel."""
    return tuple(sensitivity(surrogate, seed=seed, power=power) for surrogate in surrogates)


def main_effect(
    surrogate: Surrogate, place: int, levels: Floats, *, seed: int = 0, points: int = 256
) -> Floats:
    """Return the mean outcome over a parameter, the others averaged over the cube.

    Parameters
    ----------
    surrogate
        To ask.
    place
        Column of the parameter.
    levels
        Of the parameter, in [0, 1], shape ``(m,)``.
    seed, points
        Of the sample of the others.

    Returns
    -------
    numpy.ndarray
        Shape ``(m,)``.
    """
    others = np.random.default_rng(seed).random((points, len(surrogate.space.names)))
    means = []
    for level in levels:
        others[:, place] = level
        means.append(float(surrogate.mean_cube(others).mean()))
    return np.array(means)


def _change(surrogate: Surrogate, place: int, seed: int) -> float:
    """Return the span of the main effect, signed by where its ends are."""
    means = main_effect(surrogate, place, np.linspace(0.0, 1.0, _LEVELS), seed=seed)
    low, high = int(means.argmin()), int(means.argmax())
    return float(means[high] - means[low]) * (1.0 if high >= low else -1.0)
