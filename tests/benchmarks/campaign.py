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

import numpy as np

from correlate import load_campaign, rate
from correlate.campaign import score_campaign
from tests.benchmarks.rating import crash_pulse

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
    """Score the synthetic campaign, then rate as many ready pairs, both on all cores."""
    cores = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_project(folder)
        campaign = load_campaign(folder)
        score_campaign(campaign, releases=["B0"], workers=1)
        start = time.perf_counter()
        peaks: list[float] = []
        scores = score_campaign(
            campaign, workers=cores, progress=lambda _done, _total: peaks.append(_resident_mb())
        )
        campaign_s = time.perf_counter() - start
    if scores.new != PAIRS:
        sys.exit(f"{scores.new} pairs rated instead of {PAIRS}: {scores.unrated[:1]}")
    with ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn")) as pool:
        start = time.perf_counter()
        list(pool.map(_rate_many, [PAIRS // cores] * cores))
        kernel_s = time.perf_counter() - start
    return CampaignSpeed(PAIRS, campaign_s, kernel_s, max(peaks))


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


def _rate_many(count: int) -> None:
    pair = crash_pulse(SAMPLES)
    for _ in range(count):
        rate(pair)


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
