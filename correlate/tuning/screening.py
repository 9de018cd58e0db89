"""Screening on the runs themselves: trajectories that change one parameter at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.extras import need_extra

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable

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
    """Find the trajectories of a table of runs.

    Parameters
    ----------
    table
        Of the runs.

    Returns
    -------
    list of numpy.ndarray
        Rows of each: one more than there are parameters, each step a change of one parameter, each parameter
        once, all steps of one length.
    """
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

    Parameters
    ----------
    table
        Of the runs. Trajectories with a run that is not done are left out, and so are
        runs in no trajectory.
    outcome
        Name of the outcome.
    seed
        Of the bootstrap.

    Returns
    -------
    Screening

    Raises
    ------
    SettingsError
        Fewer than two trajectories are complete, or their steps differ in length.

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
