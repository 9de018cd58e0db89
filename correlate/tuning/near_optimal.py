"""Which parameters the rating leaves open: what else would rate as well as the best."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.walkers import walkers_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate.tuning.parameters import ParameterSpace

    Floats = NDArray[np.float64]

WALKERS: Final = 64
STEPS: Final = 400
LOOSE: Final = 0.9
"""A parameter that keeps more than this share of the spread of its range is called loose. Chosen here."""
_EVEN: Final = float(np.sqrt(1 / 12))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NearOptimal:
    """Parameter values that would rate about as well as the best.

    Attributes
    ----------
    names
        Of the parameters.
    sample
        Points of the unit cube, shape ``(n, d)``.
    spread
        Standard deviation of each parameter over that of its whole range, shape ``(d,)``: near 0 it is pinned
        down, near 1 the rating says nothing of it.
    """

    names: tuple[str, ...]
    sample: Floats
    spread: Floats

    @property
    def loose(self) -> tuple[str, ...]:
        """Parameters that the rating does not pin down."""
        return tuple(name for name, one in zip(self.names, self.spread, strict=True) if one > LOOSE)

    @property
    def words(self) -> tuple[str, ...]:
        """One sentence a finding."""
        return tuple(
            f"the rating leaves '{name}' open: nearly any value gives the same rating" for name in self.loose
        )


def near_optimal(
    space: ParameterSpace,
    predict: Callable[[Floats], Floats],
    best: Floats,
    tolerance: float,
    *,
    seed: int = 0,
    steps: int = STEPS,
) -> NearOptimal:
    r"""Sample the points that would rate about as well as the best one.

    Walkers sample the density :math:`\exp(-\tfrac12 ((f^* - f(x)) / \tau)^2)` over the cube.

    Parameters
    ----------
    space
        The box.
    predict
        Maps points of the unit cube, shape ``(n, d)``, to the predicted rating, shape ``(n,)``.
    best
        Best point, in the units of the parameters, shape ``(d,)``. The walkers start about it.
    tolerance
        Difference of the rating that does not count: how far it moves from one repeat to the next.
    seed
        Of the walkers.
    steps
        That each walker takes; the first half is thrown away.

    Returns
    -------
    NearOptimal

    Raises
    ------
    SettingsError
        The tolerance is not above zero.
    """
    if not tolerance > 0:
        raise SettingsError(
            f"a tolerance of {tolerance:g} leaves only one point",
            remedy="give the repeat-to-repeat interval",
        )
    random = np.random.default_rng(seed)
    centre = space.to_unit(best)
    count = max(WALKERS, 2 * centre.size)
    walkers = np.clip(centre + 0.05 * random.standard_normal((count, centre.size)), 0.0, 1.0)
    top = max(float(predict(centre[None, :])[0]), float(predict(walkers).max()))

    def log_density(cube: Floats) -> Floats:
        short = np.maximum(top - predict(cube), 0.0)
        inside = ((cube >= 0) & (cube <= 1)).all(axis=1)
        return np.where(inside, -0.5 * (short / tolerance) ** 2, -np.inf)

    sampler = walkers_of(log_density, len(walkers), centre.size, seed)
    sampler.run_mcmc(walkers, steps)
    kept = sampler.get_chain(discard=steps // 2, flat=True)
    return NearOptimal(
        names=space.names,
        sample=kept,
        spread=kept.std(axis=0) / _EVEN,
    )
