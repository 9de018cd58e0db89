"""Judge the hints on physics that they were not made with: the family of worlds that is for judging only.

``python -m tests.diagnosis.judging [SEED]`` prints the figures of the page on features and hints.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import click
import numpy as np

from correlate.diagnosis.hints import hints
from correlate.diagnosis.hints.causes import GROUPS
from correlate.diagnosis.suspects import suspects
from tests.benchmarks.time_zero import timed
from tests.diagnosis.worlds.cases import cases
from tests.diagnosis.worlds.evidence import channels_of
from tests.diagnosis.worlds.families import JUDGING_ONLY
from tests.diagnosis.worlds.faults import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.diagnosis.hints import EvidenceChannel, Hint
    from tests.diagnosis.worlds.cases import WorldCase
    from tests.diagnosis.worlds.faults import Fault

SEED: Final = 7057
"""Of the reported figures; rules, numbers and the classifier were made on other seeds and other families."""
COUNT: Final = 400
BINS: Final = (0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0001)
"""Bounds of the weights in the table of reliability."""


@dataclass(frozen=True)
class Judged:
    """The faults of a model and the hints that its curves gave."""

    faults: tuple[Fault, ...]
    found: tuple[Hint, ...]

    def place(self, fault: Fault) -> int:
        """Return the place of a fault among the hints, from 0; 99 when it is missing."""
        groups = [hint.group for hint in self.found]
        return groups.index(fault.kind) if fault.kind in groups else 99

    def within(self, places: int) -> bool:
        """Say whether every fault is among the first hints."""
        return all(self.place(fault) < places for fault in self.faults)


def judged(
    family: str,
    count: int,
    *,
    seed: int,
    faults: int = 1,
    heard: Callable[[EvidenceChannel], bool] = lambda channel: True,  # noqa: ARG005 - all by default
) -> list[Judged]:
    """Return what the hints say of the cases of a family; ``heard`` chooses the channels that are fitted."""
    kinds = [kind for kind in KINDS if kind != "timing"]
    return [_judged(case, heard) for case in cases(family, count, seed=seed, faults=faults, kinds=kinds)]


def _judged(case: WorldCase, heard: Callable[[EvidenceChannel], bool]) -> Judged:
    return Judged(case.faults, hints(channel for channel in channels_of(case) if heard(channel)))


def share(found: Sequence[Judged], places: int) -> float:
    """Return the share of cases whose faults are all among the first ``places`` hints."""
    return float(np.mean([one.within(places) for one in found]))


def side_right(found: Sequence[Judged]) -> tuple[int, int]:
    """Return how often the side of a first hint is right, and of how many: those of the right behaviour."""
    first = [one for one in found if one.within(1)]
    return sum(one.found[0].side == one.faults[0].side for one in first), len(first)


def seconds(found: Sequence[Judged]) -> tuple[int, int]:
    """Return how often a second cause is named, and how often it and the first are the two faults."""
    named = [one for one in found if any(hint.second for hint in one.found)]
    said = [{one.found[0].group, *(hint.group for hint in one.found if hint.second)} for one in named]
    right = [{fault.kind for fault in one.faults} == groups for one, groups in zip(named, said, strict=True)]
    return len(named), sum(right)


def reliability(found: Sequence[Judged]) -> list[tuple[float, float, int]]:
    """Return for each class of weights the mean weight, how often such hints are right, and their number."""
    said = [(hint.weight, hint.group == one.faults[0].kind) for one in found for hint in one.found]
    table = []
    for low, high in pairwise(BINS):
        own = [(weight, right) for weight, right in said if low <= weight < high]
        if own:
            table.append(
                (float(np.mean([one[0] for one in own])), float(np.mean([one[1] for one in own])), len(own))
            )
    return table


def accused(family: str, count: int, *, seed: int, faults: int) -> tuple[int, int]:
    """Return how many pairs are accused of a data-handling error, and of how many; timing is never planted.

    Every pair is the first repeat of a channel and the model.
    """
    kinds = [kind for kind in KINDS if kind != "timing"]
    pairs = [
        channel
        for case in cases(family, count, seed=seed, faults=faults, kinds=kinds)
        for load_case in case.load_cases
        for channel in timed(load_case)
    ]
    return sum(bool(suspects(one.tests[0], one.model, one.recipe)) for one in pairs), len(pairs)


@click.command()
@click.argument("seed", default=SEED)
@click.option("--count", default=COUNT, show_default=True, help="Systems drawn.")
@click.option("--family", default=JUDGING_ONLY, show_default=True, help="Family of the worlds.")
def main(seed: int, count: int, family: str) -> None:
    """Print how often the hints are right."""
    single = judged(family, count, seed=seed)
    click.echo(f"{family}, seed {seed}: {_shares(single)}")
    right, whole = side_right(single)
    click.echo(f"too much or too little told rightly: {right} of {whole}")
    for group in GROUPS:
        own = [one for one in single if one.faults[0].kind == group]
        if own:
            click.echo(f"  {group}: {_shares(own)}")
    click.echo("weight, right, hints:")
    for weight, share_right, number in reliability(single):
        click.echo(f"  {weight:.2f}  {share_right:.2f}  {number}")
    double = judged(family, count // 2, seed=seed + 1, faults=2)
    one_of = float(np.mean([min(one.place(fault) for fault in one.faults) == 0 for one in double]))
    click.echo(
        f"two faults, {len(double)} cases: both among the first three {share(double, 3):.1%}, "
        f"the first hint is one of them {one_of:.1%}"
    )
    for words, some in (("one fault", single), ("two faults", double)):
        named, right = seconds(some)
        click.echo(f"{words}: a second cause is named in {named} of {len(some)}, rightly in {right}")
    honest = judged(family, count // 2, seed=seed + 2, faults=0)
    click.echo(f"honest models with hints: {sum(bool(one.found) for one in honest)} of {len(honest)}")
    for words, faults in (("honest models", 0), ("models with a fault", 1)):
        number, whole = accused(family, count // 4, seed=seed + 4, faults=faults)
        click.echo(f"pairs of {words} accused of a data-handling error: {number} of {whole}")
    for words, heard in INSTRUMENTS.items():
        click.echo(f"{words}: {_shares(judged(family, count // 2, seed=seed + 3, heard=heard))}")


INSTRUMENTS: Final[dict[str, Callable[[EvidenceChannel], bool]]] = {
    "one load case": lambda channel: channel.load_case.endswith("high"),
    "without travel": lambda channel: channel.role != "travel",
    "without force": lambda channel: channel.role != "force",
    "the rig's acceleration alone": lambda channel: channel.role == "rig",
}
"""What is left of the channels."""


def _shares(found: Sequence[Judged]) -> str:
    return f"{len(found)} cases, first {share(found, 1):.1%}, first two {share(found, 2):.1%}"


if __name__ == "__main__":
    main()
