"""What the laboratory reads: repeatability, windows and findings in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.plots.wording import channel_title, milliseconds, number, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import Qualification, QuantityVerdict
    from correlate.reference.cross_plot import ChannelCrossPlot
    from correlate.reference.finding import Finding
    from correlate.reference.repeat_numbers import RepeatNumbers
    from correlate.reference.repeatability import Ceiling
    from correlate.reference.whole_curve import UnlikeRepeats


def rounded(value: float, digits: int = 4) -> str:
    """Return a measured value with a few digits and a true minus sign.

    Parameters
    ----------
    value
        Any number.
    digits
        Significant ones.

    Returns
    -------
    str

    Examples
    --------
    >>> rounded(-2382.4655), rounded(0.123456)
    ('−2382', '0.1235')
    """
    return number(float(f"{value:.{digits}g}"))


def with_unit(text: str, unit: str) -> str:
    """Return a value with its unit; a number without dimension stands alone.

    Parameters
    ----------
    text
        The value, or several.
    unit
        As it is stored.

    Returns
    -------
    str

    Examples
    --------
    >>> with_unit("5 to 6", "m/s^2"), with_unit("0.7", "1")
    ('5 to 6 m/s²', '0.7')
    """
    return text if unit == "1" else f"{text} {unit_words(unit)}"


def repeatability_facts(
    numbers: RepeatNumbers, ceiling: Ceiling, unit: str, unlike: UnlikeRepeats | None
) -> list[tuple[str, str]]:
    """Return the repeatability of a channel as names and values.

    Parameters
    ----------
    numbers
        Of the repeats.
    ceiling
        Of the same repeats.
    unit
        Of the channel.
    unlike
        Test of the repeats as whole curves; None with few.

    Returns
    -------
    list of (str, str)
    """
    words = unit_words(unit)
    facts = [("Rating of the repeats against each other", ceiling.in_words)]
    if numbers.peak_spread is None:
        return [*facts, ("Peak", f"{rounded(numbers.peak_mean)} {words}")]
    peaks = f"{rounded(numbers.peak_mean)} ± {rounded(numbers.peak_spread, 3)} {words} (mean ± 1 SD)"
    facts.append(("Peak", peaks))
    if numbers.peak_variation is not None:
        facts.append(
            (
                "Coefficient of variation of the peak",
                f"{rounded(100 * numbers.peak_variation, 3)} % ({numbers.variation_class})",
            )
        )
    if numbers.largest_spread is not None and numbers.largest_spread_s is not None:
        when = milliseconds(round(numbers.largest_spread_s, 7))
        facts.append(("Largest SD over time", f"{rounded(numbers.largest_spread, 3)} {words} at {when}"))
    if numbers.relative_spread is not None:
        part = f"{rounded(100 * numbers.relative_spread, 3)} %"
        facts.append(("Largest SD over the peak of the mean curve", part))
    if unlike is not None:
        facts.append(("Repeats unlike the others", unlike_words(unlike)))
    return facts


def unlike_words(unlike: UnlikeRepeats) -> str:
    """Say which repeats are, as whole curves, unlike the others.

    Parameters
    ----------
    unlike
        Test of the repeats.

    Returns
    -------
    str

    Examples
    --------
    >>> from correlate.reference.whole_curve import UnlikeRepeats
    >>> unlike_words(UnlikeRepeats(distances=(0.9, 1.0, 1.1), p_values=(1.0, 0.8, 0.42)))
    'none (least p 0.42)'
    >>> unlike_words(UnlikeRepeats(distances=(0.9, 9.0, 1.1), p_values=(1.0, 0.0002, 1.0)))
    '2 (p < 0.001)'
    """
    found = [f"{place + 1} ({_p_words(unlike.p_values[place])})" for place in unlike.unlike()]
    return ", ".join(found) or f"none (least {_p_words(min(unlike.p_values))})"


def cross_plot_words(plot: ChannelCrossPlot) -> str:
    """Say how a model lies in a cross-plot, or without one how the repeats were registered.

    Parameters
    ----------
    plot
        Of one channel over another.

    Returns
    -------
    str
        Distances are per cent of the largest values of the axes.
    """
    title = f"{channel_title(plot.y_channel)} over {channel_title(plot.x_channel)}"
    found = plot.deviation
    if found is None or plot.share_inside is None:
        return f"{title}: {plot.corridor.assumptions[0]}"
    side = "left" if found.mean > 0 else "right"
    return (
        f"{title}: {plot.share_inside:.0%} of the model's arc inside; RMS distance from the mean path "
        f"{100 * found.rms:.1f} % of the axes, largest {100 * found.largest:.1f} %, on average "
        f"{100 * abs(found.mean):.1f} % to its {side}"
    )


def _p_words(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p {rounded(p, 2)}"


def verdict_words(verdict: QuantityVerdict) -> str:
    """Return a measured quantity against its window in a few words.

    Parameters
    ----------
    verdict
        Of one recording.

    Returns
    -------
    str
        For instance ``outside by −0.5``.
    """
    if verdict.verdict != "outside" or verdict.outside_by is None:
        return verdict.verdict
    sign = "+" if verdict.outside_by > 0 else ""
    return f"outside by {sign}{rounded(verdict.outside_by, 3)}"


def qualification_words(found: Sequence[Qualification]) -> str:
    """Say how many repeats are inside all windows.

    Parameters
    ----------
    found
        One a repeat.

    Returns
    -------
    str
    """
    passed = sum(one.passed for one in found)
    if passed == len(found):
        return (
            f"all {len(found)} repeats are inside every window" if len(found) > 1 else "inside every window"
        )
    return f"{passed} of {len(found)} repeats are inside every window"


def finding_title(finding: Finding, test: str) -> str:
    """Return kind, weight, test and time of a finding.

    Parameters
    ----------
    finding
        Of the data check.
    test
        Name of its test.

    Returns
    -------
    str
    """
    when = f", {finding.span_words.replace('-', '−')}" if finding.span_words else ""
    return f"{finding.severity.capitalize()}: {finding.kind}, {test}{when}"
