"""How often mistakes come first, honest models are accused: ``python -m tests.benchmarks.suspects``."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.diagnosis.suspects import sensor_suspects, suspects
from tests.diagnosis.suspects.planting import PLANTS, honest

if TYPE_CHECKING:
    from correlate.diagnosis.suspects import Suspect
    from tests.diagnosis.suspects.planting import Planted

COUNT = 300
SEED = 97_531
"""Not a seed that any limit was chosen on."""


@dataclass(frozen=True, kw_only=True)
class HitRates:
    """What was measured.

    Attributes
    ----------
    planted, first
        Pairs with a mistake, and those in which it came first, by kind.
    honest, accused
        Honest poor models, and those accused of anything.
    accusations
        Of what.
    """

    planted: Counter[str]
    first: Counter[str]
    honest: int
    accused: int
    accusations: Counter[str]

    @property
    def first_share(self) -> float:
        """Share of planted mistakes that came first."""
        return self.first.total() / self.planted.total()

    @property
    def accused_share(self) -> float:
        """Share of honest models that were accused."""
        return self.accused / self.honest


def search(planted: Planted, *, sensor: bool) -> tuple[Suspect, ...]:
    """Look at all three axes, or at the first one with the others at hand."""
    if sensor:
        return sensor_suspects(planted.reference, planted.candidate, planted.recipe)
    others = {item.channel: item for item in planted.candidate[1:]}
    return suspects(planted.reference[0], planted.candidate[0], planted.recipe, other_axes=others)


def measure(count: int = COUNT, seed: int = SEED) -> HitRates:
    """Plant each kind equally often and search; then search honest poor models.

    Half of the pairs are searched as one channel, half as a sensor; a turned frame always as a sensor. A
    mistake counts as first when the first suspect is of its kind.
    """
    random = np.random.default_rng([seed, 1])
    planted, first, accusations = Counter[str](), Counter[str](), Counter[str]()
    kinds = list(PLANTS)
    for index in range(count):
        kind = kinds[index % len(kinds)]
        pair = PLANTS[kind](random)
        found = search(pair, sensor=kind == "local frame turned" or bool(random.uniform() < 0.5))
        planted[kind] += 1
        first[kind] += bool(found) and found[0].kind == kind
    random = np.random.default_rng([seed, 2])
    accused = 0
    for _ in range(count):
        found = search(honest(random), sensor=bool(random.uniform() < 0.5))
        accused += bool(found)
        accusations.update({suspect.kind for suspect in found})
    return HitRates(planted=planted, first=first, honest=count, accused=accused, accusations=accusations)


def main() -> None:
    """Print the table."""
    rates = measure()
    print(f"| planted, seed {SEED} | pairs | first |\n| --- | --- | --- |")
    for kind, pairs in rates.planted.items():
        print(f"| {kind} | {pairs} | {rates.first[kind]} |")
    print(f"| all | {rates.planted.total()} | {rates.first.total()} ({rates.first_share:.1%}) |")
    print(
        f"\n{rates.accused} of {rates.honest} honest poor models accused ({rates.accused_share:.1%})",
        end=": ",
    )
    print(dict(rates.accusations))


if __name__ == "__main__":
    main()
