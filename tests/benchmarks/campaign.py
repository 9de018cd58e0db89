"""A synthetic campaign of 20,000 pairs against the bare kernel on the same cores."""

from __future__ import annotations

import multiprocessing
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate import CampaignReader, campaign_pairs, load_campaign, rate
from correlate.campaign import score_campaign
from tests.benchmarks.rating import crash_pulse

if TYPE_CHECKING:
    from collections.abc import Callable

LOAD_CASES, REPEATS, CHANNELS, RELEASES = 4, 5, 25, 40
SAMPLES = 1500
PAIRS = LOAD_CASES * REPEATS * CHANNELS * RELEASES


@dataclass(frozen=True, slots=True)
class CampaignSpeed:
    """What was measured.

    Attributes
    ----------
    pairs
        Rated.
    campaign_s, kernel_s
        Wall time of scoring from files, and of rating as many ready pairs, on all cores.
    peak_mb
        Largest resident memory of the main process and its workers together.
    """

    pairs: int
    campaign_s: float
    kernel_s: float
    peak_mb: float

    @property
    def share(self) -> float:
        """Speed of the campaign as a share of the kernel's."""
        return self.kernel_s / self.campaign_s


def write_project(folder: Path, *, releases: int = RELEASES) -> None:
    """Write tests, results and the campaign file.

    Parameters
    ----------
    folder
        Empty.
    releases
        How many.
    """
    random = np.random.default_rng(5)
    base = crash_pulse(SAMPLES)
    text = ['[campaign]\ntitle = "synthetic"\n']
    for case in range(LOAD_CASES):
        text.append(
            f'[[load_case]]\nname = "case-{case}"\ntests = ["tests/case-{case}/*.csv"]\n'
            f"interval_ms = [0, {(SAMPLES - 1) / 10}]\n"
        )
        text += [
            f'[[load_case.channel]]\ntest = "c{n}"\nregion = "r{n % 5}"\ncfc = 600\n' for n in range(CHANNELS)
        ]
        for repeat in range(REPEATS):
            _write(folder / "tests" / f"case-{case}" / f"R{repeat}.csv", base.reference, random)
        for release in range(releases):
            _write(folder / "releases" / f"B{release}" / f"case-{case}.csv", base.candidate, random)
    text += [f'[[release]]\nname = "B{n}"\nfolder = "releases/B{n}"\n' for n in range(releases)]
    (folder / "campaign.toml").write_text("".join(text), encoding="utf-8")


def measure() -> CampaignSpeed:
    """Score the synthetic campaign, start-up included; then time the bare rating of as many pairs.

    The bare rating runs on pairs that are read, conditioned and aligned before its clock starts.
    """
    cores = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_project(folder)
        campaign = load_campaign(folder)
        peaks: list[float] = []
        start = time.perf_counter()
        scores = score_campaign(campaign, workers=cores, progress=_watch(peaks))
        campaign_s = time.perf_counter() - start
        if scores.new != PAIRS:
            sys.exit(f"{scores.new} pairs rated instead of {PAIRS}: {scores.unrated[:1]}")
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(cores, mp_context=context) as pool:
            jobs = [(folder, PAIRS // cores)] * cores
            kernel_s = max(pool.map(_bare_rating, jobs))
    return CampaignSpeed(PAIRS, campaign_s, kernel_s, max(peaks))


def report(speed: CampaignSpeed) -> str:
    """Put what was measured into words.

    Parameters
    ----------
    speed
        From :func:`measure`.

    Returns
    -------
    str
    """
    return (
        f"Campaign of {speed.pairs:,} pairs from files, start-up included: {speed.campaign_s:.1f} s. "
        f"Bare rating of as many ready pairs: {speed.kernel_s:.1f} s. "
        f"That is {speed.share:.0%} of its speed (goal 80 %). "
        f"Peak memory of all processes: {speed.peak_mb:.0f} MB (goal 1,500)."
    )


def _watch(peaks: list[float]) -> Callable[[int, int], None]:
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
    path: Path, curve: np.ndarray[tuple[int], np.dtype[np.float64]], random: np.random.Generator
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    columns = curve * random.uniform(0.8, 1.2, (CHANNELS, 1)) + 0.01 * random.standard_normal(
        (CHANNELS, SAMPLES)
    )
    table = np.column_stack([np.arange(SAMPLES) / 10, columns.T])
    heading = "time [ms]," + ",".join(f"c{n} [kN]" for n in range(CHANNELS))
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
