"""Walkers that sample a density over the unit cube."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from emcee import EnsembleSampler
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def walkers_of(
    log_density: Callable[[Floats], Floats], count: int, dimension: int, seed: int
) -> EnsembleSampler:
    """Return walkers that move by differences of each other, which follow ridges of any direction.

    Parameters
    ----------
    log_density
        Maps points of shape ``(m, d)`` to the logarithm of the density, shape ``(m,)``.
    count, dimension
        Number of walkers, at least twice that of parameters, and number of parameters.
    seed
        Equal seeds give equal walks.

    Returns
    -------
    emcee.EnsembleSampler

    References
    ----------
    .. [1] Foreman-Mackey, Hogg, Lang, Goodman, "emcee: The MCMC Hammer", Publications of the Astronomical
       Society of the Pacific 125 (2013) 306-312.
    .. [2] Moves: ter Braak, Statistics and Computing 16 (2006) 239-249; ter Braak, Vrugt, Statistics and
       Computing 18 (2008) 435-446.
    """
    from emcee import EnsembleSampler  # noqa: PLC0415 - slow to import
    from emcee.moves import DEMove, DESnookerMove  # noqa: PLC0415

    sampler = EnsembleSampler(
        count, dimension, log_density, vectorize=True, moves=[(DEMove(), 0.8), (DESnookerMove(), 0.2)]
    )
    sampler.random_state = np.random.RandomState(seed).get_state()
    return sampler
