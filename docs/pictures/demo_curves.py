"""Every channel of the demo as small panels in SVG: repeats of the test and the three releases.

Curves are conditioned as the campaign of the demo says. Heights are rounded to a tenth of a pixel before
points are chosen, so that the last digit of a filter has no say in the bytes of a picture.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import fmean
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import CampaignPair, CampaignReader, load_campaign
from correlate.plots import LIGHT, channel_title, unit_words
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FONT: Final = 'font-family="Archivo, Segoe UI, Arial, sans-serif"'
STYLES: Final = {
    "A1": f'stroke="{LIGHT.accent}" stroke-width="14" stroke-dasharray="20 28"',
    "A2": f'stroke="{LIGHT.alert}" stroke-width="15" stroke-dasharray="75 35"',
    "A3": f'stroke="{LIGHT.model}" stroke-width="20"',
}
"""Of the releases, in tenths of a pixel: dotted, dashed, solid, so that they differ in grey print too."""
REPEATS: Final = f'stroke="{LIGHT.test}" stroke-width="12" stroke-opacity="0.8"'
WIDTH, HEAD, FOOT = 900, 74, 10
PANEL_WIDTH, PANEL_HEIGHT = 440, 214
LEFT, TOP, PLOT_WIDTH, PLOT_HEIGHT = 64, 36, 362, 134
COLUMNS: Final = 90


@dataclass(kw_only=True)
class ChannelCurves:
    """One channel of one load case.

    Attributes
    ----------
    title, unit
        Text for display.
    time
        Grid of the comparison [s].
    repeats
        Conditioned curve of each test, by its name.
    releases
        Conditioned curve of each release.
    ratings
        Of each release, one per repeat.
    """

    title: str
    unit: str
    time: Floats
    repeats: dict[str, Floats] = field(default_factory=dict)
    releases: dict[str, Floats] = field(default_factory=dict)
    ratings: dict[str, list[float]] = field(default_factory=dict)

    def rating(self, release: str) -> float:
        """Return the mean over the repeats, as the campaign reports it."""
        return fmean(self.ratings[release])


@dataclass(frozen=True, kw_only=True)
class CaseCurves:
    """All channels of one load case, by channel code."""

    title: str
    held_out: bool
    channels: dict[str, ChannelCurves]

    def rating(self, release: str) -> float:
        """Return the plain mean over the channels."""
        return fmean(channel.rating(release) for channel in self.channels.values())


def read_project(project: Path) -> dict[str, CaseCurves]:
    """Condition and rate every pair of a built demo.

    Parameters
    ----------
    project
        Folder with ``campaign.toml``; load cases that were not built are left out.

    Returns
    -------
    dict
        By the name of the load case, in the order of the campaign.
    """
    campaign, reader = load_campaign(project), CampaignReader()
    found: dict[str, CaseCurves] = {}
    for case in campaign.load_cases:
        if not (project / "laboratory" / case.name).exists():
            continue
        found[case.name] = CaseCurves(title=case.title, held_out=case.held_out, channels={})
        tests = campaign.tests(case)
        for channel in case.channel:
            for release in campaign.releases:
                for name, test in tests.items():
                    pair = CampaignPair(
                        load_case=case, channel=channel, release=release, repeat=name, test_paths=(test,),
                        model_path=campaign.model_path(release, case),
                    )  # fmt: skip
                    score = reader.score(campaign, pair)
                    aligned = score.rating.pair
                    curves = found[case.name].channels.setdefault(
                        channel.test,
                        ChannelCurves(
                            title=channel_title(channel.test),
                            unit=unit_words(score.reference.unit),
                            time=aligned.time,
                        ),
                    )
                    curves.repeats[test.stem] = aligned.reference
                    curves.releases[release.name] = aligned.candidate
                    curves.ratings.setdefault(release.name, []).append(score.rating.overall)
    return found


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return values 1, 2 or 5 times a power of ten apart, at most about ``most`` steps, around the data.

    Examples
    --------
    >>> ticks(-0.3, 9.0, 5)
    [-2.0, 0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    rough = (high - low) / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * (1 - 1e-9))
    first, last = int(np.floor(low / step + 1e-9)), int(np.ceil(high / step - 1e-9))
    return [round(index * step, 9) for index in range(first, last + 1)]


def picture(case: CaseCurves) -> str:
    """Draw one load case.

    Parameters
    ----------
    case
        From `read_project`.

    Returns
    -------
    str
        SVG on a background of its own.
    """
    rows = -(-len(case.channels) // 2)
    height = HEAD + rows * PANEL_HEIGHT + FOOT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" {FONT} role="img">',
        f"<title>{case.title}: repeats of the test and releases A1, A2, A3, channel by channel</title>",
        (
            f'<rect x="0.5" y="0.5" width="{WIDTH - 1}" height="{height - 1}" rx="8" fill="{LIGHT.panel}" '
            f'stroke="{LIGHT.rule}"/>'
        ),
        f'<text x="20" y="31" font-size="17" font-weight="600" fill="{LIGHT.ink}">{case.title}</text>',
        *_legend(len(next(iter(case.channels.values())).repeats)),
    ]
    for index, channel in enumerate(case.channels.values()):
        x, y = 10 + index % 2 * PANEL_WIDTH, HEAD + index // 2 * PANEL_HEIGHT
        parts += _panel(channel, x, y)
    return "\n".join([*parts, "</svg>", ""])


def _legend(repeats: int) -> list[str]:
    entries = {f"test, {repeats} repeats": REPEATS, **{f"release {k}": v for k, v in STYLES.items()}}
    parts, x = [], 20
    for words, style in entries.items():
        parts.append(f'<g transform="translate({x} 53.5) scale(.1)"><path d="M0 0h340" {style}/></g>')
        parts.append(f'<text x="{x + 42}" y="57.5" font-size="13" fill="{LIGHT.muted}">{words}</text>')
        x += 42 + round(6.4 * len(words)) + 30
    return parts


def _panel(channel: ChannelCurves, x: int, y: int) -> list[str]:
    curves = [*channel.repeats.values(), *channel.releases.values()]
    heights = ticks(min(map(np.min, curves)), max(map(np.max, curves)), 4)
    time = 1e3 * channel.time
    times = [tick for tick in ticks(time[0], time[-1], 6) if tick <= time[-1] + 1e-9]
    across = PLOT_WIDTH / (time[-1] - time[0])
    upright = PLOT_HEIGHT / (heights[-1] - heights[0])
    ratings = " · ".join(f"{name} {channel.rating(name):.2f}" for name in channel.releases)
    parts = [
        f'<g transform="translate({x} {y})">',
        f'<text x="10" y="18" font-size="13.5" fill="{LIGHT.ink}">{channel.title} [{channel.unit}]</text>',
        (
            f'<text x="{LEFT + PLOT_WIDTH}" y="18" font-size="12" text-anchor="end" fill="{LIGHT.muted}">'
            f"{ratings}</text>"
        ),
    ]
    for tick in heights:
        level = TOP + (heights[-1] - tick) * upright
        colour = LIGHT.edge if tick == 0 else LIGHT.rule
        parts.append(f'<path d="M{LEFT} {level:.1f}h{PLOT_WIDTH}" stroke="{colour}"/>')
        parts.append(_label(_number(tick), LEFT - 8, level + 4, "end"))
    for tick in times:
        place = LEFT + (tick - time[0]) * across
        parts.append(f'<path d="M{place:.1f} {TOP + PLOT_HEIGHT}v5" stroke="{LIGHT.edge}"/>')
        if tick == times[-1]:
            parts.append(_label(f"{tick:g} ms", place + 9, TOP + PLOT_HEIGHT + 18, "end"))
        else:
            parts.append(_label(f"{tick:g}", place, TOP + PLOT_HEIGHT + 18, "middle"))
    parts.append(f'<g transform="translate({LEFT} {TOP}) scale(.1)" fill="none" stroke-linejoin="round">')
    styled = [(curve, REPEATS) for curve in channel.repeats.values()]
    styled += [(curve, STYLES[name]) for name, curve in channel.releases.items()]
    for curve, style in styled:
        pixels = np.rint(10 * (heights[-1] - curve) * upright).astype(np.int64)
        parts.append(
            f'<path d="{_path(np.rint(10 * (time - time[0]) * across).astype(int), pixels)}" {style}/>'
        )
    return [*parts, "</g>", "</g>"]


def _label(words: str, x: float, y: float, anchor: str) -> str:
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
    return f'<text {place} font-size="12" fill="{LIGHT.muted}">{words}</text>'


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _path(across: NDArray[np.int64], down: NDArray[np.int64]) -> str:
    """Join the extremes of every few pixels by steps relative to the point before."""
    kept = kept_samples(down.astype(np.float64), COLUMNS)
    x, y = across[kept], down[kept]
    steps = " ".join(f"{a} {b}" for a, b in zip(np.diff(x), np.diff(y), strict=True))
    return f"M{x[0]} {y[0]}l{steps}".replace(" -", "-")
