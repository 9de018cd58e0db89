"""A signal as a notebook shows it: a small static drawing with its units, and one line of words."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Final

from correlate.plots.palette import LIGHT
from correlate.plots.wording import channel_title, unit_words
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from correlate.signal import Signal

WIDTH: Final = 420
"""Of the drawing, in px."""
HEIGHT: Final = 130
_LEFT, _RIGHT, _TOP, _BOTTOM = 76, 12, 10, 24


def signal_html(signal: Signal) -> str:
    """Draw a signal without a script, a style sheet or anything from elsewhere."""
    low, high = float(signal.samples.min()), float(signal.samples.max())
    unit = escape(unit_words(signal.unit))
    title = escape(channel_title(signal.channel))
    right, bottom = WIDTH - _RIGHT, HEIGHT - _BOTTOM
    step = f", last step: {escape(signal.history[-1].name)}" if signal.history else ""
    rate = f"{len(signal)} samples at {signal.sample_rate_hz:.6g} Hz"
    words = f"{title}: {rate}, {low:.4g} to {high:.4g} {unit}{step}"
    edge = f'stroke="{LIGHT.rule}" fill="none"'
    return (
        f'<div><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" role="img" aria-label="{words}" font-family="sans-serif" font-size="11" '
        f'fill="{LIGHT.muted}"><rect width="{WIDTH}" height="{HEIGHT}" fill="{LIGHT.panel}"/>'
        f'<path d="M{_LEFT} {_TOP}V{bottom}H{right}" {edge}/>'
        f'<text x="{_LEFT - 6}" y="{_TOP + 8}" text-anchor="end">{high:.4g} {unit}</text>'
        f'<text x="{_LEFT - 6}" y="{bottom}" text-anchor="end">{low:.4g} {unit}</text>'
        f'<text x="{_LEFT}" y="{HEIGHT - 8}">{1e3 * signal.start_s:.4g} ms</text>'
        f'<text x="{right}" y="{HEIGHT - 8}" text-anchor="end">{1e3 * signal.end_s:.4g} ms</text>'
        f'<polyline points="{_points(signal, low, high)}" fill="none" stroke="{LIGHT.test}" '
        f'stroke-width="1.4" stroke-linejoin="round"/></svg><div>{words}</div></div>'
    )


def _points(signal: Signal, low: float, high: float) -> str:
    """Return the corners of the curve in px, to a tenth; a constant one lies in the middle."""
    wide, tall = WIDTH - _LEFT - _RIGHT, HEIGHT - _TOP - _BOTTOM
    kept = kept_samples(signal.samples, columns=wide)
    across = _LEFT + wide * kept / (len(signal) - 1)
    # Halves first: the span of two finite samples may be beyond the largest number.
    span = high / 2 - low / 2
    share = (signal.samples[kept] / 2 - low / 2) / span if span > 0 else 0.0 * across + 0.5
    up = _TOP + tall * (1.0 - share)
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(across.tolist(), up.tolist(), strict=True))
