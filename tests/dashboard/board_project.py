"""A project with many releases of which only the store exists: what the scoreboard reads.

Ratings follow from their place by a fixed rule, so that tests know each of them.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from itertools import product
from typing import TYPE_CHECKING

from correlate import RunInfo, load_campaign, open_store
from correlate.campaign import ChannelCeiling, PairRecord

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

TITLE = "Many releases"
STARTED = datetime(2031, 4, 5, 6, 7, tzinfo=UTC)
REGIONS = ("head", "neck", "thorax", "lumbar", "leg")


def write_board_project(
    folder: Path, *, releases: int = 3, load_cases: int = 3, channels: int = 6, repeats: int = 3
) -> Path:
    """Write campaign file and store, and return the folder; every third load case is held out."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = [f'[campaign]\ntitle = "{TITLE}"\ndevice = "KELP-M"\n']
    lines.append("[limits]\nleast = 0.6\nlargest_loss = 0.02\n")
    for case in range(load_cases):
        held_out = "held_out = true\n" if case % 3 == 2 else ""
        lines.append(
            f'[[load_case]]\nname = "case-{case}"\ntitle = "Load case {case} <i>"\n'
            f'tests = ["tests/case-{case}/*"]\ninterval_ms = [0, 100]\n{held_out}'
        )
        for number in range(channels):
            sensor = 'sensor = "head"\n' if number < 3 else ""
            region = "head" if number < 3 else REGIONS[number % len(REGIONS)]
            lines.append(
                f'[[load_case.channel]]\ntest = "c{number}"\ntitle = "channel {number}"\n'
                f'region = "{region}"\n{sensor}'
            )
    lines += [f'[[release]]\nname = "B{n}"\nfolder = "releases/B{n}"\n' for n in range(releases)]
    (folder / "campaign.toml").write_text("".join(lines), encoding="utf-8")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        run = RunInfo(who="analyst", started=STARTED, campaign_sha256=campaign.sha256)
        store.keep(_records(releases, load_cases, channels, repeats), run=run)
        store.keep_ceilings(_ceilings(load_cases, channels))
    return folder


def rating(release: int, case: int, channel: int, repeat: int) -> float:
    """Return the rating of a pair: better with every release, but for one channel that gets worse."""
    trend = -0.05 if channel == 3 else 0.02
    return min(1.0, max(0.0, 0.6 + trend * release + 0.01 * case + 0.02 * channel + 0.002 * repeat))


def _records(releases: int, load_cases: int, channels: int, repeats: int) -> Iterator[PairRecord]:
    for place in product(range(releases), range(load_cases), range(channels), range(repeats)):
        release, case, channel, repeat = place
        overall = rating(*place)
        yield PairRecord(
            key=hashlib.sha256(repr(place).encode()).hexdigest(),
            campaign=TITLE,
            release=f"B{release}",
            load_case=f"case-{case}",
            channel=f"c{channel}",
            repeat=f"R{repeat}",
            overall=overall,
            grade="good",
            corridor=overall,
            phase=overall,
            magnitude=overall,
            slope=overall,
            shift_s=0.0,
            samples=1000,
            inputs={"reference": {"file": f"R{repeat}"}, "candidate": {"file": f"B{release}"}},
            settings={"conditioning": {}, "rating": {}},
            ingredients={
                "corridor": {"reference_peak": 10.0 + channel, "score": overall, "inner_half_width": 0.5},
                "magnitude": {"error": 0.1, "band": 100, "reference_sum": 100.0, "difference_sum": 10.0},
                "phase": {"delay_samples": 2, "correlation": 0.99, "largest_shift": 20.0, "score": overall},
                "slope": {"error": 0.1, "reference_sum": 1000.0, "difference_sum": 100.0, "score": overall},
            },
            version="0.1.0",
        )


def _ceilings(load_cases: int, channels: int) -> Iterator[ChannelCeiling]:
    for case, channel in product(range(load_cases), range(channels)):
        yield ChannelCeiling(
            key=f"ceiling {case} {channel}",
            campaign=TITLE,
            load_case=f"case-{case}",
            channel=f"c{channel}",
            median=0.95,
            lowest=0.93,
            highest=0.97,
            reference_peak=10.0 + channel,
            repeats=3,
        )
