"""Train the classifier of the hints on invented worlds and write it as data.

``python -m tests.diagnosis.training`` draws random rigs (`worlds/chains.py`) and the families that are not
for judging, plants one fault in each model, and fits a logistic regression and a network of one hidden layer,
whose sums are averaged. How sharp the probabilities are is set by leaving the families out of the fit. The
family for judging is never looked at. Takes about 20 minutes on two cores.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
import numpy as np
from scipy.optimize import minimize_scalar
from sklearn.linear_model import LogisticRegression
from sklearn.neural_network import MLPClassifier

from correlate.diagnosis.hints.causes import BEND, CAUSES, SIDES, Cause, Classifier, as_row
from correlate.diagnosis.hints.evidence import numbers_of
from correlate.files import whole_file
from tests.diagnosis.worlds.cases import cases
from tests.diagnosis.worlds.chains import chain_cases
from tests.diagnosis.worlds.evidence import channels_of
from tests.diagnosis.worlds.families import FAMILIES, JUDGING_ONLY
from tests.diagnosis.worlds.faults import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from tests.diagnosis.worlds.cases import WorldCase

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int64]

LEARNING: Final = tuple(name for name in FAMILIES if name != JUDGING_ONLY)
SEED: Final = 43
RIGS, SYSTEMS, AT_ONCE = 2400, 8, 20
OF_TWO: Final = 3
"""Every third block of rigs has two faults in each model; such a row counts for both."""
OF_FAMILY: Final = 400
HIDDEN: Final = 128
REGRESSION_STRENGTH: Final = 1e-3
NETWORK_STRENGTH: Final = 2.0
WEIGHTS: Final = (1.0, 0.6, 0.4)
"""Of a row of all channels, of one load case alone, of some of the channels."""
NUMBERS: Final = (
    "scale", "inner", "inner_bias", "outer", "outer_bias", "direct", "sharpness", "effects",
)  # fmt: skip
WRITTEN_TO: Final = Path(__file__).parents[2] / "correlate" / "diagnosis" / "hints" / "causes.npz"


@dataclass(frozen=True)
class Row:
    """Numbers of one piece of evidence, a cause behind them, its weight, and if it is the only cause."""

    numbers: dict[str, float]
    cause: Cause
    weight: float
    alone: bool


def rows_of(case: WorldCase, rng: np.random.Generator) -> list[Row]:
    """Return the evidence of a case as a whole, of one load case, and of some of its channels."""
    channels = channels_of(case)
    names = sorted({one.name for one in channels})
    single = str(rng.choice([one.name for one in case.load_cases]))
    kept = set(rng.choice(names, size=int(rng.integers(1, max(2, len(names)))), replace=False))
    whole = bool(rng.integers(2))
    chosen = (
        channels,
        [one for one in channels if one.load_case == single],
        [one for one in channels if one.name in kept and (whole or one.load_case == single)],
    )
    causes: list[Cause] = [(fault.kind, fault.side) for fault in case.faults]  # type: ignore[misc]
    found = [(numbers_of(some), weight) for some, weight in zip(chosen, WEIGHTS, strict=True)]
    alone = len(causes) == 1
    return [Row(numbers, cause, weight, alone) for numbers, weight in found if numbers for cause in causes]


def _of_rigs(seed: int) -> list[Row]:
    rng = np.random.default_rng(seed)
    faults = 2 if seed % OF_TWO == 0 else 1
    found = chain_cases(AT_ONCE, SYSTEMS, seed=seed, faults=faults)
    return [row for case in found for row in rows_of(case, rng)]


def _of_family(name: str) -> list[Row]:
    rng = np.random.default_rng(SEED)
    kinds = [kind for kind in KINDS if kind != "timing"]
    found = [rows_of(case, rng) for case in cases(name, OF_FAMILY, seed=SEED, kinds=kinds)]
    return [row for rows in found for row in rows]


def matrix(rows: Sequence[Row], names: Sequence[str], scale: Floats) -> Floats:
    """Return the rows as the classifier reads them, ``(m, n)``."""
    return np.array([as_row(row.numbers, names, scale) for row in rows])


def both_ways(rows: Sequence[Row], table: Floats) -> tuple[Floats, Integers, Floats]:
    """Return the rows and the same turned round: too little looks like the opposite of too much."""
    number = np.array([CAUSES.index(row.cause) for row in rows])
    turned = np.array([CAUSES.index((row.cause[0], SIDES[1 - SIDES.index(row.cause[1])])) for row in rows])
    weight = np.array([row.weight for row in rows])
    return np.concatenate([table, -table]), np.concatenate([number, turned]), np.concatenate([weight, weight])


def fit(rows: Sequence[Row]) -> Classifier:
    """Fit both models and join them."""
    names = tuple(sorted({name for row in rows for name in row.numbers} - {"size"}))
    scale = np.nanstd(
        np.tanh(np.array([[row.numbers.get(name, np.nan) for name in names] for row in rows]) / BEND), axis=0
    )
    scale = np.where(scale > 0.0, scale, 1.0)
    table, number, weight = both_ways(rows, matrix(rows, names, scale))
    linear = LogisticRegression(C=REGRESSION_STRENGTH, max_iter=100, class_weight="balanced")
    linear.fit(table, number, sample_weight=weight)
    network = MLPClassifier((HIDDEN,), alpha=NETWORK_STRENGTH, max_iter=25, batch_size=256, random_state=SEED)
    network.fit(table, number)
    inner, outer = network.coefs_
    alone = np.concatenate([[row.alone for row in rows]] * 2)
    return Classifier(
        names=names,
        scale=scale,
        inner=inner,
        inner_bias=network.intercepts_[0],
        outer=outer / 2.0,
        outer_bias=(network.intercepts_[1] + linear.intercept_) / 2.0,
        direct=linear.coef_.T / 2.0,
        sharpness=1.0,
        effects=np.stack([_mean_where(table[alone & (number == cause)]) for cause in range(len(CAUSES))]),
    )


def _mean_where(table: Floats) -> Floats:
    """Return the mean of each column over the rows that have the number."""
    return np.asarray(table.sum(axis=0) / np.maximum(1, (table != 0.0).sum(axis=0)))


def sharpness(found: Classifier, rows: Sequence[Row]) -> float:
    """Return the factor under which rows that the fit has not seen are the most probable."""
    table = matrix(rows, found.names, found.scale)
    number = np.array([CAUSES.index(row.cause) for row in rows])

    def loss(factor: float) -> float:
        chances = replace(found, sharpness=factor).probabilities(table)
        return float(-np.log(np.maximum(chances[np.arange(len(rows)), number], 1e-12)).mean())

    return float(minimize_scalar(loss, bounds=(0.1, 5.0), method="bounded").x)


def write(found: Classifier, path: Path) -> None:
    """Write a classifier as plain numbers in single precision."""
    with whole_file(path) as draft:
        values = {name: np.asarray(getattr(found, name), dtype=np.float32) for name in NUMBERS}
        np.savez_compressed(draft, allow_pickle=False, names=np.array(found.names), **values)


def rows_by_family(rigs: int) -> tuple[list[Row], dict[str, list[Row]]]:
    """Return the evidence of the rigs and of each family, from several processes."""
    with ProcessPoolExecutor() as pool:
        own = pool.map(_of_family, LEARNING)
        chains = pool.map(_of_rigs, [SEED * 100_000 + block for block in range(rigs // AT_ONCE)])
        return [row for rows in chains for row in rows], dict(zip(LEARNING, own, strict=True))


def share_right(found: Classifier, rows: Iterable[Row]) -> float:
    """Return how often the most probable behaviour is the right one, over rows of all channels."""
    whole = [row for row in rows if row.weight == WEIGHTS[0]]
    chances = found.probabilities(matrix(whole, found.names, found.scale))
    by_group = chances.reshape(len(whole), -1, len(SIDES)).sum(axis=2)
    right = [CAUSES.index(row.cause) // len(SIDES) for row in whole]
    return float(np.mean(by_group.argmax(axis=1) == right))


@click.command()
@click.option("--rigs", default=RIGS, show_default=True, help="Random rigs to learn from.")
def main(rigs: int) -> None:
    """Train, say how the families fare that were left out, and write the file."""
    chains, families = rows_by_family(rigs)
    apart = fit(chains)
    for name, rows in families.items():
        click.echo(f"{name}: first right in {share_right(apart, rows):.1%}, learnt from random rigs alone")
    factor = sharpness(apart, [row for rows in families.values() for row in rows])
    found = replace(fit([*chains, *(row for rows in families.values() for row in rows)]), sharpness=factor)
    write(found, WRITTEN_TO)
    click.echo(f"written: {WRITTEN_TO.name}; {len(chains)} rows of rigs, sharpness {factor:.2f}")


if __name__ == "__main__":
    main()
