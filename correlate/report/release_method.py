"""How a release was rated, in tables of settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate.evaluation.tables import RATING
from correlate.metrics.iso18571 import RatingSettings
from correlate.plots.record_words import choice_words
from correlate.plots.wording import COMPONENTS, filter_words, milliseconds, number, share

if TYPE_CHECKING:
    from correlate.campaign import Campaign
    from correlate.report.release_contents import ReleaseContents

_REPEATS = {
    "each": "every repeat of a test is rated and the mean reported",
    "mean curve": "the mean of the repeats is the one reference",
}
_MISSING = {
    "apart": "a channel without data is left out and counted",
    "zero": "a channel without data counts as a rating of 0",
}


def method(contents: ReleaseContents) -> dict[str, Any]:
    """Return how the release was rated.

    Parameters
    ----------
    contents
        Of the document.

    Returns
    -------
    dict
        ``facts`` and ``choices``: names and values; ``components``; ``channels``: how each was conditioned;
        ``other``: settings that differ from the published ones.
    """
    campaign = contents.campaign
    published, used = RatingSettings().as_dict(), campaign.settings.as_dict()
    return {
        "facts": _facts(campaign),
        "components": [
            (name, meaning, number(getattr(campaign.settings.weights, name)))
            for name, meaning in COMPONENTS.items()
        ],
        "choices": choice_words(campaign.settings),
        "other": [name.replace("_", " ") for name, value in used.items() if value != published[name]],
        "weights": [(region, number(weight)) for region, weight in campaign.regions.items()],
        "channels": _conditioning(campaign),
    }


def _facts(campaign: Campaign) -> list[tuple[str, str]]:
    settings, scoring = campaign.settings, campaign.scoring
    widths = f"±{share(settings.inner_half_width)} and ±{share(settings.outer_half_width)}"
    measure = "ISO/TS 18571:2014, from memory"
    if scoring.main != RATING:
        measure = f"{measure}; what is combined into the numbers of the release is {scoring.main}"
    return [
        ("Rating of a pair", measure),
        ("Corridors", f"{widths} of the test’s peak"),
        ("Largest shift tried", f"{share(settings.largest_shift)} of the interval"),
        ("Warping band", f"{share(settings.warping_band)} of the samples"),
        ("Repeats", _REPEATS[scoring.repeats]),
        ("Missing channels", _MISSING[scoring.missing]),
        ("From channel to release", "weighted means: sensor, body region, load case, release"),
    ]


def _conditioning(campaign: Campaign) -> list[dict[str, str]]:
    rows = []
    for case in campaign.load_cases:
        for plan in case.channel:
            offset = plan.test_offset_ms
            notes = [
                "test turned" if plan.test_sign < 0 else "",
                "model turned" if plan.model_sign < 0 else "",
                f"model moved by {number(plan.model_shift_ms)} ms" if plan.model_shift_ms else "",
                "" if offset is None else f"test offset from {number(offset[0])} to {number(offset[1])} ms",
            ]
            rows.append(
                {
                    "case": case.name,
                    "channel": plan.words,
                    "filter": filter_words(plan.cfc),
                    "interval": f"{number(case.interval_ms[0])} to {number(case.interval_ms[1])} ms",
                    "step": milliseconds(case.step_ms / 1e3),
                    "notes": ", ".join(note for note in notes if note),
                }
            )
    return rows
