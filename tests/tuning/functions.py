"""Functions with published answers, to check optimiser and sensitivity against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.runs import RunTable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def box(*ranges: tuple[float, float]) -> ParameterSpace:
    """Return linear parameters x0, x1 … that start in their middle."""
    return ParameterSpace(
        tuple(
            Parameter(name=f"x{place}", unit="1", lower=low, upper=high, start=(low + high) / 2)
            for place, (low, high) in enumerate(ranges)
        )
    )


def run_table(
    space: ParameterSpace,
    points: Floats,
    outcomes: Mapping[str, Floats],
    *,
    status: Sequence[str] = (),
    rounds: Sequence[int] = (),
) -> RunTable:
    """Return runs, all done in the design unless said otherwise."""
    count = len(points)
    return RunTable(
        space=space,
        points=np.array(points, dtype=np.float64),
        status=tuple(status) or ("done",) * count,
        outcomes={name: np.array(values, dtype=np.float64) for name, values in outcomes.items()},
        rounds=np.array(rounds or [0] * count, dtype=np.int64),
    )


def branin(x: Floats) -> Floats:
    """Return the function of Branin, least value 0.397887 on [-5, 10] × [0, 15].

    Source: Dixon and Szegö, Towards Global Optimisation 2, North-Holland 1978 (from memory).
    """
    first, second = x[..., 0], x[..., 1]
    valley = second - 5.1 / (4 * np.pi**2) * first**2 + 5 / np.pi * first - 6
    return np.asarray(valley**2 + 10 * (1 - 1 / (8 * np.pi)) * np.cos(first) + 10)


BRANIN_LEAST = 0.397887
HARTMANN_LEAST = -3.32237

_WIDTHS = np.array(
    [
        [10, 3, 17, 3.5, 1.7, 8],
        [0.05, 10, 17, 0.1, 8, 14],
        [3, 3.5, 1.7, 10, 17, 8],
        [17, 8, 0.05, 10, 0.1, 14],
    ]
)
_CENTRES = 1e-4 * np.array(
    [
        [1312, 1696, 5569, 124, 8283, 5886],
        [2329, 4135, 8307, 3736, 1004, 9991],
        [2348, 1451, 3522, 2883, 3047, 6650],
        [4047, 8828, 8732, 5743, 1091, 381],
    ]
)
_HEIGHTS = np.array([1.0, 1.2, 3.0, 3.2])


def hartmann(x: Floats) -> Floats:
    """Return the six-dimensional function of Hartmann, least value -3.32237 on the unit cube.

    Source: Dixon and Szegö, Towards Global Optimisation 2, North-Holland 1978 (from memory).
    """
    away = np.sum(_WIDTHS * (x[..., None, :] - _CENTRES) ** 2, axis=-1)
    return np.asarray(-np.sum(_HEIGHTS * np.exp(-away), axis=-1))


def ishigami(cube: Floats) -> Floats:
    """Return the function of Ishigami and Homma (a = 7, b = 0.1) of points of the unit cube.

    Source: Ishigami, Homma, ISUMA 1990, 398-403; indices: Sobol', Levitan, Comput. Phys. Commun. 117 (1999).
    """
    x = np.pi * (2 * cube - 1)
    sines = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2
    return np.asarray(sines + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))


def g_function(cube: Floats, a: Floats) -> Floats:
    """Return the g-function of Sobol', a product of (|4x − 2| + a) / (1 + a).

    Source: Saltelli, Sobol', Mathematical Modelling 7 (1995) 16-28 (from memory).
    """
    return np.asarray(np.prod((np.abs(4 * cube - 2) + a) / (1 + a), axis=1))
