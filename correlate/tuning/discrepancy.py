"""What the cards can be, given tests, runs and a model whose form may be wrong; and where no card helps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.gaussian_process import matern
from correlate.tuning.identifiability import EVEN
from correlate.tuning.one_thread import in_one_thread
from correlate.tuning.repeat_scatter import add_blocks, inverse_root, lower_root, variances_of_mean

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.coarse_curves import CoarseCurves
    from correlate.tuning.repeat_scatter import RepeatScatter

    Floats = NDArray[np.float64]

SIZES: Final = (0.0, *np.geomspace(0.005, 0.5, 14).tolist())
"""Standard deviations of a discrepancy that are tried, as shares of the size of a channel. Chosen here."""
LENGTHS: Final = (0.05, 0.1, 0.2, 0.4)
"""Its length scales that are tried, as shares of the interval. Chosen here."""
FARTHEST: Final = 0.3
"""Farthest that slopes are followed from the optimum, in sides of the cube. Chosen here."""
CYCLES: Final = 3
"""How often optimum and discrepancies are found in turn. Chosen here."""
STARTS: Final = 4
"""Starts of the search for the optimum. Chosen here."""
SEARCHED: Final = 512
"""Points of the cube that the starts are chosen from. Chosen here."""
CLOUD: Final = 8
"""Points about the optimum that the errors of the emulator are averaged over. Chosen here."""
WALKERS_EACH: Final = 2
"""Walkers for each parameter, and no fewer than ``LEAST_WALKERS``."""
LEAST_WALKERS: Final = 24
BLOCK: Final = 400
"""Steps between two looks at the autocorrelation."""
MOST_STEPS: Final = 6000
LENGTHS_NEEDED: Final = 50
"""Autocorrelation times that a chain must be long. Source: the documentation of emcee (from memory)."""
EFFECTIVE_NEEDED: Final = 400
"""Independent draws that 95 % intervals need. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DiscrepancySize:
    """What was found of the discrepancy of one channel.

    Attributes
    ----------
    size
        Standard deviation, as a share of the size of the channel; 0 where the tests show none.
    length
        Length scale, as a share of the interval.
    """

    size: float
    length: float

    def covariance(self, count: int) -> Floats:
        """Return the covariance over a number of times, shape ``(count, count)``."""
        times = np.arange(count) / count
        return np.asarray(self.size**2 * matern(np.abs(times[:, None] - times) / self.length, 2.5))


class CardsModel:
    r"""The density of the cards: tests = emulator + discrepancy + scatter.

    .. math::

        \log p(x) = -\tfrac12 \sum_c (\bar y_c - f_c(x))^\top
            (\Sigma_c / r_c + E_c + D_c)^{-1} (\bar y_c - f_c(x))

    inside the unit cube, over the load cases: :math:`\Sigma / r` is the covariance of the mean of the tests,
    :math:`E` that of the errors of the emulator about the optimum, and :math:`D` that of the discrepancies.

    Parameters
    ----------
    curves, scatter
        Training curves with their tests, and their scatter.
    errors
        Of the emulator, by channel.
    sizes
        Of the discrepancies, by channel.
    """

    def __init__(
        self,
        curves: CoarseCurves,
        scatter: RepeatScatter,
        errors: Sequence[Floats],
        sizes: Sequence[DiscrepancySize],
    ) -> None:
        self.curves = curves
        self.scatter = scatter
        self.errors = errors
        self.sizes = sizes
        blocks = [error + size.covariance(len(error)) for error, size in zip(errors, sizes, strict=True)]
        self._roots: list[tuple[slice, Floats]] = []
        for channels, of_mean in zip(curves.load_cases.values(), scatter.of_mean, strict=True):
            whole = add_blocks(of_mean, channels, blocks)
            place = slice(channels[0].place.start, channels[-1].place.stop)
            self._roots.append((place, inverse_root(whole)))

    def white(self, vectors: Floats) -> Floats:
        """Return vectors of shape ``(m, N)`` in units in which the errors are independent and of size 1."""
        return np.hstack([vectors[:, place] @ root.T for place, root in self._roots])

    def residuals(self, cube: Floats) -> Floats:
        """Return tests less emulator at points of the unit cube, in these units, shape ``(m, N)``."""
        return self.white(self.curves.tests - self.curves.predict(cube))

    def log_density(self, cube: Floats) -> Floats:
        """Return the logarithm of the density at points of shape ``(m, d)``, minus infinity outside."""
        inside = ((cube >= 0) & (cube <= 1)).all(axis=1)
        found = np.full(len(cube), -np.inf)
        if inside.any():
            found[inside] = -0.5 * np.sum(self.residuals(cube[inside]) ** 2, axis=1)
        return found

    def optimum(self, starts: Floats) -> Floats:
        """Return the point of the cube with the largest density that searches from some starts find."""
        from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import

        def away(point: Floats) -> Floats:
            return np.asarray(self.residuals(point[None])[0])

        def slopes(point: Floats) -> Floats:
            return np.asarray(-self.white(slopes_at(self.curves, point)).T)

        inside = np.clip(starts, _EDGE, 1 - _EDGE)
        ends = [
            least_squares(away, start, jac=slopes, bounds=(0.0, 1.0), max_nfev=_MOST_LOOKS)
            for start in inside
        ]
        return np.asarray(min(ends, key=lambda end: float(end.cost)).x)

    def precision(self, point: Floats) -> Floats:
        """Return the inverse of the covariance of the cards about a point, with that of the cube."""
        white = self.white(slopes_at(self.curves, point))
        return np.asarray(white @ white.T + np.eye(point.size) / EVEN**2)


_EDGE: Final = 1e-6
_MOST_LOOKS: Final = 100


def slopes_at(curves: CoarseCurves, point: Floats, step: float = 1e-3) -> Floats:
    """Return how the curves move with each parameter at a point, shape ``(d, N)``."""
    low, high = np.maximum(point - step, 0.0), np.minimum(point + step, 1.0)
    dimension = point.size
    ends = np.tile(point, (2 * dimension, 1))
    places = np.arange(dimension)
    ends[places, places], ends[dimension + places, places] = low, high
    found = curves.predict(ends)
    return np.asarray((found[dimension:] - found[:dimension]) / (high - low)[:, None])


@in_one_thread
def fit_model(
    curves: CoarseCurves, scatter: RepeatScatter, near: Floats, seed: int = 0
) -> tuple[CardsModel, Floats]:
    """Find the optimum of the cards and the sizes of the discrepancies in turn.

    Parameters
    ----------
    curves, scatter
        Training curves with their tests, and their scatter.
    near
        A point to start from, in the unit cube, shape ``(d,)``.
    seed
        Of the starts and the points about the optimum.

    Returns
    -------
    tuple of CardsModel and numpy.ndarray
        The model and the optimum.

    Notes
    -----
    The sizes maximise the likelihood of each channel, given what the other channels say of the cards, by the
    slopes at the optimum; they are then held. This is modular: that they are not known exactly is not part of
    the intervals.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    random = np.random.default_rng(seed)
    sizes = [DiscrepancySize(size=0.05, length=0.2)] * len(curves.channels)
    points = qmc.Sobol(near.size, rng=random).random(SEARCHED)
    model = CardsModel(curves, scatter, curves.emulator_covariance(points[:CLOUD]), sizes)
    density = np.concatenate([model.log_density(part) for part in np.array_split(points, 8)])
    starts = np.vstack([near, points[np.argsort(-density)[: STARTS - 1]]])
    optimum = model.optimum(starts)
    for _ in range(CYCLES):
        model = CardsModel(curves, scatter, _errors_about(model, optimum, random), sizes)
        sizes = discrepancy_sizes(model, optimum)
        model = CardsModel(curves, scatter, model.errors, sizes)
        optimum = model.optimum(optimum[None])
    return model, optimum


def _errors_about(model: CardsModel, optimum: Floats, random: np.random.Generator) -> list[Floats]:
    """Return the errors of the emulator where the cards may be."""
    root = np.linalg.cholesky(np.linalg.inv(model.precision(optimum)))
    cloud = optimum + random.standard_normal((CLOUD, optimum.size)) @ root.T
    return model.curves.emulator_covariance(np.clip(cloud, 0.0, 1.0))


def discrepancy_sizes(model: CardsModel, optimum: Floats) -> list[DiscrepancySize]:
    """Return the likeliest size and length of the discrepancy of each channel."""
    curves = model.curves
    slopes, away = slopes_at(curves, optimum), curves.tests - curves.predict(optimum[None])[0]
    plain = _own_covariances(curves, model.scatter, model.errors)
    sizes = list(model.sizes)
    for _ in range(CYCLES):
        roots = [
            inverse_root(one + size.covariance(len(one))) for one, size in zip(plain, sizes, strict=True)
        ]
        whites = [slopes[:, one.place] @ roots[one.number].T for one in curves.channels]
        pulls = [
            white @ (roots[one.number] @ away[one.place])
            for one, white in zip(curves.channels, whites, strict=True)
        ]
        precision = sum(one @ one.T for one in whites) + np.eye(optimum.size) / EVEN**2
        pull = np.sum(pulls, axis=0)
        for one in curves.channels:
            others = precision - whites[one.number] @ whites[one.number].T
            spread = np.linalg.inv(others)
            step = np.clip(spread @ (pull - pulls[one.number]), -FARTHEST, FARTHEST)
            step = np.clip(optimum + step, 0.0, 1.0) - optimum
            own = slopes[:, one.place]
            sizes[one.number] = _likeliest(
                away[one.place] - step @ own, plain[one.number] + own.T @ spread @ own
            )
    return sizes


def _own_covariances(curves: CoarseCurves, scatter: RepeatScatter, errors: Sequence[Floats]) -> list[Floats]:
    """Return the covariance of tests less emulator of each channel by itself."""
    found = []
    for channels, of_mean in zip(curves.load_cases.values(), scatter.of_mean, strict=True):
        first = channels[0].place.start
        whole = add_blocks(of_mean, channels, errors)
        places = [slice(one.place.start - first, one.place.stop - first) for one in channels]
        found += [whole[place, place] for place in places]
    return found


def _likeliest(away: Floats, covariance: Floats) -> DiscrepancySize:
    tried = [DiscrepancySize(size=0.0, length=LENGTHS[-1])]
    tried += [DiscrepancySize(size=size, length=length) for size in SIZES[1:] for length in LENGTHS]

    roots = np.linalg.cholesky(
        np.array([covariance + one.covariance(len(away)) for one in tried])
        + 1e-10 * np.trace(covariance) / len(away) * np.eye(len(away))
    )
    white = np.linalg.solve(roots, away[:, None])[:, :, 0]
    logs = np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    return tried[int(np.argmax(-0.5 * np.sum(white**2, axis=1) - logs))]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """Draws of the cards.

    Attributes
    ----------
    draws
        Points of the unit cube, shape ``(n, d)``.
    steps
        That each walker took and that are kept.
    autocorrelation
        Longest autocorrelation time of a parameter, in steps.
    effective
        Independent draws that they are worth.
    """

    draws: Floats
    steps: int
    autocorrelation: float
    effective: float

    @property
    def converged(self) -> bool:
        """Whether the chain is long enough to be believed."""
        return self.steps >= LENGTHS_NEEDED * self.autocorrelation and self.effective >= EFFECTIVE_NEEDED


@in_one_thread
def sample_cards(
    model: CardsModel,
    optimum: Floats,
    *,
    seed: int = 0,
    most_steps: int = MOST_STEPS,
    progress: Callable[[float], None] = lambda _done: None,
) -> Sampled:
    """Draw cards by their density.

    Parameters
    ----------
    model
        The density.
    optimum
        Where the walkers start about, in the unit cube, shape ``(d,)``.
    seed
        Of the walkers.
    most_steps
        After which the chain ends, long enough or not.
    progress
        Told which share of the steps was taken.

    Returns
    -------
    Sampled
        Of the last three quarters of the steps.

    References
    ----------
    .. [1] Foreman-Mackey, Hogg, Lang, Goodman, "emcee: The MCMC Hammer", Publications of the Astronomical
       Society of the Pacific 125 (2013) 306-312, with moves by differences of walkers: ter Braak, Statistics
       and Computing 16 (2006) 239-249; ter Braak, Vrugt, 18 (2008) 435-446.
    """
    import emcee  # noqa: PLC0415 - an extra, slow to import

    dimension = optimum.size
    walkers = max(LEAST_WALKERS, WALKERS_EACH * dimension)
    walkers += walkers % 2
    random = np.random.default_rng(seed)
    root = np.linalg.cholesky(np.linalg.inv(model.precision(optimum)))
    first = _reflected(optimum + random.standard_normal((walkers, dimension)) @ root.T)
    sampler = emcee.EnsembleSampler(
        walkers,
        dimension,
        model.log_density,
        vectorize=True,
        moves=[(emcee.moves.DEMove(), 0.8), (emcee.moves.DESnookerMove(), 0.2)],
    )
    sampler.random_state = np.random.RandomState(seed).get_state()
    state = emcee.State(first)
    found = None
    while found is None or (not found.converged and sampler.iteration < most_steps):
        state = sampler.run_mcmc(state, min(BLOCK, most_steps))
        progress(sampler.iteration / most_steps)
        chain = sampler.get_chain(discard=sampler.iteration // 4)
        time = float(np.max(emcee.autocorr.integrated_time(chain, tol=0, quiet=True)))
        found = Sampled(
            draws=chain.reshape(-1, dimension),
            steps=len(chain),
            autocorrelation=time,
            effective=chain.shape[0] * chain.shape[1] / time,
        )
    return found


def _reflected(cube: Floats) -> Floats:
    """Return points with what is outside of the cube folded back into it."""
    folded = np.abs(cube) % 2.0
    return np.where(folded > 1.0, 2.0 - folded, folded)


FALSE_ALARMS: Final = 0.03
"""Probability that a window is claimed anywhere though there is none."""
NULL_DRAWS: Final = 1000
"""Simulated sets of tests that the limit is taken from. Chosen here."""
GAP: Final = 1
"""Windows of a channel with no more than this many times between them are one. Chosen here."""
REACHING: Final = 2048
"""Cards that are asked how near any of them comes. Chosen here."""
REACHED: Final = 2.0
"""Standard errors within which a card reaches the tests. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelGap:
    """What the best cards leave of one channel, in shares of its size.

    Attributes
    ----------
    tests, reached
        Mean of the tests, and the curve of the best cards, shape ``(t,)``.
    half_width
        Of the band about 0 that tests less curve leave by chance, anywhere in any channel, with a probability
        of ``FALSE_ALARMS``, shape ``(t,)``.
    windows
        First and last time of each stretch outside the band.
    reachable
        Of each window, whether some card within its bounds reaches the tests there.
    """

    tests: Floats
    reached: Floats
    half_width: Floats
    windows: tuple[tuple[int, int], ...]
    reachable: tuple[bool, ...]

    @property
    def gap(self) -> Floats:
        """Tests less curve."""
        return self.tests - self.reached


@in_one_thread
def gaps_left(model: CardsModel, optimum: Floats, draws: Floats, *, seed: int = 0) -> list[ChannelGap]:
    r"""Find where the tests differ from the curves of the best cards by more than chance.

    Parameters
    ----------
    model
        With its tests.
    optimum
        The best cards, in the unit cube, shape ``(d,)``.
    draws
        Of the cards, shape ``(n, d)``.
    seed
        Of the simulated tests.

    Returns
    -------
    list of ChannelGap
        By channel.

    Notes
    -----
    At every time the difference is divided by its standard error: of the mean of the tests, of the emulator,
    and of the curves of the drawn cards. The limit is the largest such value over all times of all channels
    with the same number of repeats that simulated tests without a discrepancy stay below with 95 %; they
    scatter as the repeats did, and their scatter is estimated again each time, so that the limit is higher
    where repeats are few. It is shared evenly between the numbers of repeats there are.
    """
    random = np.random.default_rng(seed)
    curves, scatter = model.curves, model.scatter
    reached = curves.predict(optimum[None])[0]
    chosen = draws[random.choice(len(draws), min(len(draws), 200), replace=False)]
    spread = np.vstack([curves.predict(part) for part in np.array_split(chosen, 8)]).var(axis=0)
    known = np.concatenate([np.diag(one) for one in model.errors]) + spread
    error = np.sqrt(_variances(scatter) + known)
    limits = _limits(model, known, random)
    away = curves.tests - reached
    anywhere = _anywhere(curves, optimum.size, random)
    found = []
    for one, limit in zip(curves.channels, limits, strict=True):
        half_width = limit * error[one.place]
        windows = _windows(np.abs(away[one.place]) > half_width)
        found.append(
            ChannelGap(
                tests=curves.tests[one.place],
                reached=reached[one.place],
                half_width=half_width,
                windows=windows,
                reachable=tuple(
                    _reaches(
                        window,
                        away[one.place],
                        half_width / limit,
                        curves.tests[one.place] - anywhere[:, one.place],
                    )
                    for window in windows
                ),
            )
        )
    return found


def _variances(scatter: RepeatScatter) -> Floats:
    return np.concatenate([np.diag(one) for one in scatter.of_mean])


def _limits(model: CardsModel, known: Floats, random: np.random.Generator) -> Floats:
    """Return the limit of each channel, in standard errors."""
    curves, scatter = model.curves, model.scatter
    roots = [lower_root(one) for one in scatter.of_mean]
    errors = [lower_root(one) for one in model.errors]
    repeats = np.array(scatter.repeats)
    tests = [
        np.sqrt(count) * drawn[:, :count]
        for drawn, count in zip(_drawn(curves, roots, int(repeats.max()), random), repeats, strict=True)
    ]
    wrong = [random.standard_normal((NULL_DRAWS, len(one))) @ one.T for one in errors]
    away = np.hstack([one.mean(axis=1) + left for one, left in zip(tests, wrong, strict=True)])
    shares = np.abs(away) / np.sqrt(variances_of_mean(tests) + known)
    largest = np.array([shares[:, one.place].max(axis=1) for one in curves.channels])
    limits = np.zeros(len(curves.channels))
    counts = np.unique(repeats)
    for count in counts:
        group = repeats == count
        limits[group] = np.quantile(largest[group].max(axis=0), 1 - FALSE_ALARMS / len(counts))
    return limits


def _drawn(
    curves: CoarseCurves, roots: Sequence[Floats], repeats: int, random: np.random.Generator
) -> list[Floats]:
    """Draw means of tests without a discrepancy, about 0, of each channel ``(NULL_DRAWS, repeats, t)``."""
    found: list[Floats] = []
    for channels, root in zip(curves.load_cases.values(), roots, strict=True):
        drawn = random.standard_normal((NULL_DRAWS, repeats, len(root))) @ root.T
        first = channels[0].place.start
        found += [drawn[:, :, one.place.start - first : one.place.stop - first] for one in channels]
    return found


def _anywhere(curves: CoarseCurves, dimension: int, random: np.random.Generator) -> Floats:
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    points = qmc.Sobol(dimension, rng=random).random(REACHING)
    return np.vstack([curves.predict(part) for part in np.array_split(points, 64)])


def _windows(outside: NDArray[np.bool_]) -> tuple[tuple[int, int], ...]:
    """Return first and last place of each stretch, those that are close taken together."""
    found: list[tuple[int, int]] = []
    for place in np.flatnonzero(outside).tolist():
        if found and place - found[-1][1] <= GAP + 1:
            found[-1] = (found[-1][0], place)
        else:
            found.append((place, place))
    return tuple(found)


def _reaches(window: tuple[int, int], away: Floats, error: Floats, others: Floats) -> bool:
    """Say whether any card brings the mean of a window to the tests."""
    inside = slice(window[0], window[1] + 1)
    side = np.sign(away[inside].mean())
    nearest = float(np.min(side * others[:, inside].mean(axis=1)))
    return nearest <= REACHED * float(error[inside].mean())
