"""How often a shift of time zero is found, and suspected where there is none.

``python -m tests.benchmarks.time_zero [FAMILY ...]`` judges models of invented worlds: shifted as a whole,
with another fault, with two, honest, and honest against repeats with jitter.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import click
import numpy as np

from correlate import Recipe, Signal
from correlate.campaign.scatter import within_scatter
from correlate.conditioning import shift_time
from correlate.diagnosis.suspects.case import paired, rated
from correlate.diagnosis.suspects.common_time import TimedChannel, common_delay, is_time_zero
from correlate.diagnosis.suspects.delays import delay_errors, shift_alone
from correlate.metrics.iso18571 import RatingSettings
from correlate.reference.scatter import hardware_scatter
from tests.diagnosis.worlds.cases import cases

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from tests.diagnosis.worlds.cases import WorldCase, WorldChannel, WorldLoadCase

SEED: Final = 577_215
"""Not a seed that any limit was chosen on."""
JUDGED: Final = "knee"
"""The family that no limit was chosen on."""
COUNT: Final = 240
OTHERS: Final = ("stiffness", "damping", "mass", "hysteresis", "densification", "gap", "friction", "speed")
SIZES_MS: Final = ((3, 5), (5, 9), (9, 15), (15, 25))
JITTERS_S: Final = (0.0005, 0.001)
WITH_FAULT: Final = "another fault and "
"""Before the size of a shift of a model that has another fault too; its record is moved with it."""
RANGE_S: Final = 0.03
STEP_S: Final = 1e-4
RATING: Final = RatingSettings()
LEAST_LOSS: Final = 0.03
UNITS: Final = {"m/s2": "m/s^2", "N m": "N·m"}


@dataclass(kw_only=True)
class Measured:
    """Load cases by what was planted, and those in which a common shift is suspected.

    Attributes
    ----------
    planted, suspected
        By what was planted; shifts by their size.
    not_recorded
        Shifts after which the record of the model no longer covers the event of the test, by size.
    off_ms
        Found shift minus planted one.
    """

    planted: Counter[str] = field(default_factory=Counter)
    suspected: Counter[str] = field(default_factory=Counter)
    not_recorded: Counter[str] = field(default_factory=Counter)
    off_ms: list[float] = field(default_factory=list)

    def judge(self, name: str, channels: Sequence[TimedChannel], planted_s: float | None = None) -> None:
        """Search one load case."""
        found = common_delay(channels)
        suspected = found is not None and is_time_zero(found)
        self.planted[name] += 1
        self.suspected[name] += suspected
        if planted_s is not None:
            self.not_recorded[name] += not _recorded(channels, planted_s)
        if planted_s is not None and suspected and found is not None and not name.startswith(WITH_FAULT):
            self.off_ms.append((found.delay_s - planted_s) * 1e3)

    def share(self, names: Iterable[str]) -> tuple[int, int]:
        """Return how many are suspected, and of how many."""
        listed = list(names)
        return sum(self.suspected[name] for name in listed), sum(self.planted[name] for name in listed)


def timed(load_case: WorldLoadCase, *, late_s: Sequence[float] = ()) -> list[TimedChannel]:
    """Return the channels of a load case, the repeats moved by what is given."""
    return [_timed(one, load_case, late_s or (0.0,) * len(one.tests)) for one in load_case.channels]


def _timed(channel: WorldChannel, load_case: WorldLoadCase, late_s: Sequence[float]) -> TimedChannel:
    time = load_case.time
    signal = Signal(
        samples=channel.model,
        start_s=float(time[0]),
        step_s=STEP_S,
        unit=UNITS.get(channel.unit, channel.unit),
        channel=channel.name,
    )
    rows = [
        np.interp(time - late, time, test) if late else test
        for test, late in zip(channel.tests, late_s, strict=True)
    ]
    return TimedChannel(
        name=channel.name,
        tests=tuple(replace(signal, samples=row) for row in rows),
        model=signal,
        recipe=Recipe(start_s=0.0, end_s=float(time[-1]), step_s=STEP_S),
    )


def _recorded(channels: Sequence[TimedChannel], planted_s: float) -> bool:
    """Say whether the record of the model, moved back, still covers the test in every channel."""
    delay = round(planted_s / STEP_S)
    return all(
        errors is not None and np.isfinite(errors.at(delay))
        for one in channels
        for errors in [delay_errors(one.tests[0], one.model, one.recipe, range_s=RANGE_S)]
    )


def size_words(planted_s: float) -> str:
    """Return the group of a shift by its size."""
    low, high = next(pair for pair in SIZES_MS if abs(planted_s) * 1e3 <= pair[1])
    return f"{low} to {high} ms"


def _load_cases(found: Iterable[WorldCase]) -> Iterator[tuple[WorldCase, WorldLoadCase]]:
    return ((case, load_case) for case in found for load_case in case.load_cases)


def measure(family: str, *, count: int = COUNT, seed: int = SEED) -> Measured:
    """Judge one family: `count` shifted models, as many of other single faults, half as many of the rest."""
    found = Measured()
    for case, load_case in _load_cases(cases(family, count, seed=seed, kinds=["timing"])):
        planted_s = case.faults[0].amount
        found.judge(size_words(planted_s), timed(load_case), planted_s)
    random = np.random.default_rng(seed + 3)
    for case, load_case in _load_cases(cases(family, count, seed=seed + 1, kinds=OTHERS)):
        channels = timed(load_case)
        found.judge(case.faults[0].kind, channels)
        by_s = float(random.choice([-1, 1]) * random.uniform(SIZES_MS[0][0], SIZES_MS[-1][1])) / 1e3
        by_s = round(by_s / STEP_S) * STEP_S
        moved = [replace(one, model=shift_time(one.model, by_s)) for one in channels]
        found.judge(f"{WITH_FAULT}{size_words(by_s)}", moved, by_s)
    for _, load_case in _load_cases(cases(family, count // 2, seed=seed + 2, faults=2)):
        found.judge("two faults", timed(load_case))
    for _, load_case in _load_cases(cases(family, count // 2, seed=seed + 4, faults=0)):
        found.judge("honest", timed(load_case))
        for jitter_s in JITTERS_S:
            late_s = random.normal(0.0, jitter_s, size=len(load_case.channels[0].tests)).tolist()
            found.judge(f"jitter {jitter_s * 1e3:g} ms", timed(load_case, late_s=late_s))
    return found


@dataclass(kw_only=True)
class Silenced:
    """Channels and load cases that give no hints, by what was planted.

    Attributes
    ----------
    channels
        Channels that lose 0.03 or more.
    shifted, within
        Those of which a shift alone restores most of the loss, those within hardware scatter.
    load_cases
        Load cases.
    silent
        Those in which every channel is one or the other.
    """

    channels: Counter[str] = field(default_factory=Counter)
    shifted: Counter[str] = field(default_factory=Counter)
    within: Counter[str] = field(default_factory=Counter)
    load_cases: Counter[str] = field(default_factory=Counter)
    silent: Counter[str] = field(default_factory=Counter)

    def ask(self, kind: str, channels: Sequence[TimedChannel]) -> None:
        """Ask each channel of a load case whether it may give hints."""
        quiet = 0
        for one in channels:
            before = rated(paired(one.tests[0], one.model, one.recipe), RATING)
            within = within_scatter(hardware_scatter(one.tests, one.recipe, RATING, model=one.model))
            shifted = shift_alone(one.tests[0], one.model, one.recipe, RATING) is not None
            quiet += within or shifted
            if before is not None and before <= 1.0 - LEAST_LOSS:
                self.channels[kind] += 1
                self.within[kind] += within
                self.shifted[kind] += shifted
        self.load_cases[kind] += 1
        self.silent[kind] += quiet == len(channels)


def silenced(family: str, *, count: int = COUNT, seed: int = SEED) -> Silenced:
    """Ask the channels of models with a single fault, and of a third as many honest ones."""
    found = Silenced()
    for case, load_case in _load_cases(cases(family, count, seed=seed + 7, kinds=("timing", *OTHERS))):
        found.ask(case.faults[0].kind, timed(load_case))
    for _, load_case in _load_cases(cases(family, count // 3, seed=seed + 6, faults=0)):
        found.ask("honest", timed(load_case))
    return found


@click.command()
@click.argument("families", nargs=-1)
@click.option("--count", default=COUNT, show_default=True)
@click.option("--seed", default=SEED, show_default=True)
def main(families: tuple[str, ...], count: int, seed: int) -> None:
    """Print the figures of the page on suspects."""
    for family in families or (JUDGED,):
        _print_found(family, measure(family, count=count, seed=seed), seed)
        quiet = silenced(family, count=count, seed=seed)
        for kind, channels in quiet.channels.items():
            click.echo(
                f"  {kind}: of {channels} channels that lose {LEAST_LOSS:g} or more, "
                f"{quiet.shifted[kind] / channels:.0%} only shifted, "
                f"{quiet.within[kind] / channels:.0%} within scatter; "
                f"{quiet.silent[kind]} of {quiet.load_cases[kind]} load cases silent"
            )


def _print_found(family: str, found: Measured, seed: int) -> None:
    sizes = [f"{low} to {high} ms" for low, high in SIZES_MS]
    hits, shifted = found.share(sizes)
    click.echo(f"{family}, seed {seed}: {hits} of {shifted} shifts found")
    for name in [*sizes, *(f"{WITH_FAULT}{size}" for size in sizes)]:
        click.echo(
            f"  {name}: {found.suspected[name]} of {found.planted[name]}, "
            f"{found.not_recorded[name]} not recorded"
        )
    off_ms = np.sqrt(np.mean(np.square(found.off_ms)))
    click.echo(f"  root mean square of found minus planted: {off_ms:.2f} ms")
    others = [name for name in found.planted if not name.endswith(tuple(sizes))]
    wrong, honest = found.share(others)
    click.echo(f"  suspected without a shift: {wrong} of {honest}")
    listed = (f"{name} {found.suspected[name]} of {found.planted[name]}" for name in others)
    click.echo(f"  {', '.join(listed)}")


if __name__ == "__main__":
    main()
