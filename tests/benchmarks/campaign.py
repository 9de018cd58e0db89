"""A synthetic campaign of 20,000 pairs against the bare kernel on the same cores."""

from __future__ import annotations

import multiprocessing
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate import CampaignReader, campaign_pairs, load_campaign, rate
from correlate.campaign import score_campaign
from correlate.campaign.scoring import local_engine
from tests.benchmarks.rating import crash_pulse
from tests.benchmarks.table import Row, row_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate.campaign.delivery import Saving
    from correlate.campaign.scoring import Engine
    from correlate.evaluation.definition import Campaign

    Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """How large a synthetic campaign is.

    Attributes
    ----------
    load_cases, repeats, channels, releases
        Their product is the number of pairs.
    samples
        Of every curve, at 10 kHz.
    """

    load_cases: int = 4
    repeats: int = 5
    channels: int = 25
    releases: int = 40
    samples: int = 1500

    @property
    def pairs(self) -> int:
        """Number of pairs."""
        return self.load_cases * self.repeats * self.channels * self.releases


SMALL_BLOCKS = Sizes()
"""20,000 pairs in 160 blocks of 125."""

OUTSIDE = Sizes(load_cases=20, repeats=3, channels=80, releases=4)
"""19,200 pairs in 80 blocks of 240, as many as in the campaign of a laboratory."""

MANY_RELEASES = Sizes(load_cases=20, repeats=3, channels=80, releases=21, samples=200)
"""100,800 pairs of short curves, for what depends on the number of pairs alone."""


def write_project(folder: Path, sizes: Sizes = SMALL_BLOCKS) -> None:
    """Write tests, results and the campaign file.

    Parameters
    ----------
    folder
        Empty.
    sizes
        How much.
    """
    random = np.random.default_rng(5)
    base = crash_pulse(sizes.samples)
    text = ['[campaign]\ntitle = "synthetic"\n']
    for case in range(sizes.load_cases):
        text.append(
            f'[[load_case]]\nname = "case-{case}"\ntests = ["tests/case-{case}/*.csv"]\n'
            f"interval_ms = [0, {(sizes.samples - 1) / 10}]\n"
        )
        text += [
            f'[[load_case.channel]]\ntest = "c{n}"\nregion = "r{n % 5}"\ncfc = 600\n'
            for n in range(sizes.channels)
        ]
        for repeat in range(sizes.repeats):
            path = folder / "tests" / f"case-{case}" / f"R{repeat}.csv"
            _write(path, base.reference, random, sizes)
        for release in range(sizes.releases):
            path = folder / "releases" / f"B{release}" / f"case-{case}.csv"
            _write(path, base.candidate, random, sizes)
    text += [f'[[release]]\nname = "B{n}"\nfolder = "releases/B{n}"\n' for n in range(sizes.releases)]
    (folder / "campaign.toml").write_text("".join(text), encoding="utf-8")


def rows(repetitions: int = 5) -> Iterator[Row]:
    """Score the synthetic campaign on all cores, start-up included, in turn with the bare rating.

    The bare rating is the single-pair way on pairs that are read, conditioned and aligned before its clock
    starts, in as many processes.

    Parameters
    ----------
    repetitions
        How often.
    """
    cores = os.cpu_count() or 1
    peaks: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_project(folder)
        campaign = load_campaign(folder)
        times = []
        for _ in range(repetitions):
            ours = scored_s(campaign, local_engine(cores), progress=_watch(peaks))
            with ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn")) as pool:
                times.append(
                    (ours, max(pool.map(_bare_rating, [(folder, SMALL_BLOCKS.pairs // cores)] * cores)))
                )
    yield row_of(
        f"campaign of {SMALL_BLOCKS.pairs:,} pairs from files, all processes, "
        "against bare rating of ready pairs",
        times,
        goal=0.8,
        peak_mb=max(peaks),
    )


def scored_s(
    campaign: Campaign,
    engine: Engine,
    *,
    progress: Progress | None = None,
    saving: Saving | None = None,
) -> float:
    """Return the seconds that scoring everything takes.

    Parameters
    ----------
    campaign
        From :func:`write_project`.
    engine
        Who rates.
    progress
        Called after each block.
    saving
        How ratings are saved; they are not when left out.

    Returns
    -------
    float
    """
    start = time.perf_counter()
    scores = score_campaign(campaign, engine=engine, progress=progress, saving=saving)
    spent = time.perf_counter() - start
    wanted = replace(SMALL_BLOCKS, releases=len(campaign.releases)).pairs
    if scores.new != wanted:
        sys.exit(f"{scores.new} pairs rated instead of {wanted}: {scores.unrated[:1]}")
    return spent


def _watch(peaks: list[float]) -> Progress:
    """Return a progress function that looks at the memory now and then."""

    def progress(done: int, total: int) -> None:
        if done % 20 == 0 or done == total:
            peaks.append(_resident_mb())

    return progress


def _bare_rating(job: tuple[Path, int]) -> float:
    """Return the seconds that rating takes, on pairs of the campaign that are ready."""
    folder, count = job
    campaign = load_campaign(folder)
    case = campaign.load_cases[0]
    reader = CampaignReader()
    pairs = [
        reader.score(campaign, pair).rating.pair
        for pair in campaign_pairs(campaign)
        if pair.load_case == case and pair.release == campaign.releases[0]
    ]
    start = time.perf_counter()
    for index in range(count):
        rate(pairs[index % len(pairs)])
    return time.perf_counter() - start


def _write(
    path: Path,
    curve: np.ndarray[tuple[int], np.dtype[np.float64]],
    random: np.random.Generator,
    sizes: Sizes,
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    shape = (sizes.channels, sizes.samples)
    columns = curve * random.uniform(0.8, 1.2, (sizes.channels, 1)) + 0.01 * random.standard_normal(shape)
    table = np.column_stack([np.arange(sizes.samples) / 10, columns.T])
    heading = "time [ms]," + ",".join(f"c{n} [kN]" for n in range(sizes.channels))
    np.savetxt(path, table, fmt="%.7g", delimiter=",", header=heading, comments="")


def _resident_mb() -> float:
    """Return the resident memory of this process and its children (Linux)."""
    total = 0.0
    own = str(os.getpid())
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            lines = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        if own in {lines["Pid"].strip(), lines["PPid"].strip()} and "VmRSS" in lines:
            total += int(lines["VmRSS"].split()[0]) / 1024
    return total
