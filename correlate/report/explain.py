"""Explanations in the terminal and as JSON."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from rich.padding import Padding
from rich.text import Text

from correlate.campaign.explanation import by_component, by_load_case
from correlate.campaign.unrated_words import unrated_lines
from correlate.diagnosis.accounting import largest_stretches
from correlate.evaluation.record import plain
from correlate.plots.explanation_words import (
    ALL_CHANNELS,
    CHANGES,
    HINT_CAUTION,
    LIMIT_OF_SEARCH,
    MODEL_IS_ZERO,
    NO_HINT,
    NO_SUSPECT,
    NO_SUSPECT_OF_RELEASE,
    change_words,
    cluster_words,
    finding_words,
    for_a_pair,
    hint_lines,
    hint_words,
    no_hints,
    place_words,
    points,
    shown_hints,
    stretch_words,
    suspect_words,
)
from correlate.plots.wording import CAUTION, channel_title, delay_in_words, number, share, unit_words
from correlate.reference.finding import counted
from correlate.report.pair import pair_object
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rich.console import Console

    from correlate.campaign import Campaign
    from correlate.campaign.explanation import (
        ChannelCost,
        ChannelExplanation,
        Explanation,
        LoadCaseExplanation,
    )
    from correlate.campaign.pair_explanation import PairExplanation
    from correlate.diagnosis.accounting import LossAccount
    from correlate.diagnosis.differences import FeatureDifference
    from correlate.diagnosis.what_if import WhatIf
    from correlate.evaluation.evidence import Unrated


MOST_STRETCHES = 3
"""Stretches of time that are listed of each account."""


def pair_explanation_json(found: PairExplanation) -> str:
    """Return the explanation of a pair as JSON text."""
    content = {
        "pair": pair_object(found.score),
        "account": _account(found.account, with_bins=True),
        "model_is_zero": found.model_is_zero,
        "what_if": None if found.model_is_zero else _what_if(found.what_if),
        "suspects": _plain([for_a_pair(suspect) for suspect in found.suspects]),
        "differences": _plain(found.differences),
        "hints_wait": found.hints_wait,
        "silence": found.silence,
        "hints": [] if found.model_is_zero else _plain(found.hints),
        "version": VERSION,
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def explanation_json(campaign: Campaign, found: Explanation) -> str:
    """Return the explanation of a release as JSON text."""
    content = {
        "campaign": campaign.title,
        "file_sha256": campaign.sha256,
        "version": VERSION,
        "release": found.release,
        "measure": found.measure,
        "overall": found.overall,
        "by_load_case": by_load_case(found.costs),
        "by_component": by_component(found.costs),
        "costs": [_cost(one) for one in found.costs],
        "channels": [_channel(one) for one in found.channels],
        "unrated": [_channel(one) for one in found.unrated],
        "unrated_load_cases": list(found.unrated_load_cases),
        "unrated_pairs": _plain(found.gaps),
        "load_cases": [_load_case(one) for one in found.load_cases],
        "held_out": found.held_out,
        "held_out_costs": [_cost(one) for one in found.held_out_costs],
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _cost(cost: ChannelCost) -> dict[str, Any]:
    return {**_plain(cost), "mostly": cost.mostly}


def _channel(channel: ChannelExplanation) -> dict[str, Any]:
    return {
        "load_case": channel.cost.load_case,
        "channel": channel.cost.channel,
        "cost": channel.cost.cost,
        "finding": finding_words(channel),
        "repeat": channel.repeat,
        "hardware": _plain(channel.hardware),
        "hardware_cost": channel.hardware_cost,
        "account": None if channel.account is None else _account(channel.account, with_bins=False),
        "suspects": _plain(channel.suspects),
        "model_is_zero": channel.model_is_zero,
    }


def _load_case(case: LoadCaseExplanation) -> dict[str, Any]:
    return {
        "load_case": case.load_case,
        "cost": case.cost,
        "step_s": case.step_s,
        "clusters": _plain(case.clusters),
        "rated": case.rated,
        "time_zero": _plain(case.time_zero),
        "region": case.region,
        "hints": _plain(case.hints),
        "together": list(case.together),
        "roles": {one.name: one.role for one in case.evidence},
        "silence": case.silence,
        **{name: list(getattr(case, name)) for name in ("waiting", "within_scatter", "shifted", "minor")},
    }


def _account(account: LossAccount, *, with_bins: bool) -> dict[str, Any]:
    content = {
        "total": account.total,
        "by_component": _plain(account.by_component),
        "clamped": list(account.clamped),
        "stretches": _plain(largest_stretches(account, MOST_STRETCHES)),
    }
    return {**content, "bins": _plain(account.bins())} if with_bins else content


def _what_if(found: WhatIf) -> dict[str, Any]:
    """Return the changes and the ratings they give, without the curves those were made from."""
    best = {name: getattr(found, name) for name in CHANGES}
    return {
        "unchanged": found.unchanged.overall,
        **{
            name: {
                "change": _plain(one.change),
                "overall": one.rating.overall,
                "gain": one.gain,
                "at_limit": list(one.at_limit),
            }
            for name, one in best.items()
        },
    }


def _plain(value: Any) -> Any:
    """Return results as values that JSON knows: dictionaries for dataclasses, lists for arrays."""
    if is_dataclass(value) and not isinstance(value, type):
        # Not asdict(), which copies what it does not know and stumbles over read-only mappings.
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if hasattr(value, "items"):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(entry) for entry in value]
    return plain(value)


def print_explanation(console: Console, found: Explanation) -> None:
    """Print which channels cost a release most, and what may lie behind it."""
    of = "" if found.measure == "iso18571" else f" by {found.measure}"
    words = f"Release {found.release}: rating {found.overall:.3f}{of}, {points(1.0 - found.overall)} lost"
    console.print(words + _missing(found), style="bold", markup=False)
    print_gaps(console, found.gaps)
    console.print("by component: " + _sums(by_component(found.costs)))
    unrated = {} if found.missing_counts_zero else dict.fromkeys(found.unrated_load_cases, "not rated")
    console.print("by load case: " + _sums(by_load_case(found.costs), unrated))
    print_heading(console, f"What costs most ({_shown(found)})")
    console.print(_cost_table(found.channels))
    if found.unrated:
        listed = "; ".join(place_words(one.cost) for one in found.unrated)
        console.print(f"Not rated, and left out of the costs: {listed}.", markup=False)
    print_heading(console, "Channels with correlated residuals, which may share a cause")
    _print_shared(console, found)
    print_heading(console, "Suspected data-handling errors")
    _print_suspects(console, found)
    print_heading(console, "Hints about what may be wrong in the model")
    _print_hints(console, found)
    if found.held_out is not None:
        print_heading(console, f"Held-out load cases: rating {found.held_out:.3f}, costs only")
        console.print("by component: " + _sums(by_component(found.held_out_costs)))
        console.print("by load case: " + _sums(by_load_case(found.held_out_costs)))
    print_cautions(console)


def print_heading(console: Console, words: str) -> None:
    """Print the heading of a section, an empty line above it."""
    console.print()
    console.print(words, style="bold")


def print_cautions(console: Console) -> None:
    """Print what suspects, hints and ratings do not say."""
    console.print()
    console.print(HINT_CAUTION, style="dim")
    console.print(CAUTION, style="dim")


def print_gaps(console: Console, gaps: Sequence[Unrated]) -> None:
    """Print the pairs that could not be rated, those of one reason together."""
    if not gaps:
        return
    console.print(f"Not rated: {counted(len(gaps), 'pair')}", style="bold")
    for line in unrated_lines(gaps):
        print_indented(console, line)


def print_indented(console: Console, words: str) -> None:
    """Print a text two columns in, wrapped there."""
    console.print(Padding(Text(words), (0, 0, 0, 2)))


def _missing(found: Explanation) -> str:
    """Say how many load cases the rating is without, and what that does to it; empty when it has all."""
    count, total = len(found.unrated_load_cases), len(found.load_cases)
    if not count:
        return ""
    does = "they count as 0" if found.missing_counts_zero else "the weights of the others grew"
    return f"; {count} of {total} load cases are missing, not rated, and {does}"


def _sums(costs: dict[str, float], instead: Mapping[str, str] = MappingProxyType({})) -> str:
    return ", ".join(f"{name} {instead.get(name, f'{cost:.3f}')}" for name, cost in costs.items())


def _shown(found: Explanation) -> str:
    listed = f"{len(found.channels)} of {len(found.costs)} channels"
    lost = sum(cost.cost for cost in found.costs)
    if not lost:
        return listed
    return f"{listed}, {share(round(sum(one.cost.cost for one in found.channels) / lost, 2))} of the loss"


def _cost_table(channels: Sequence[ChannelExplanation]) -> TextTable:
    table = TextTable()
    table.add_column("", justify="right")
    table.add_column("channel")
    table.add_column("points", justify="right")
    table.add_column("hardware", justify="right")
    table.add_column("finding", is_text=True)
    for place, channel in enumerate(channels, start=1):
        hardware = channel.hardware_cost
        table.add_row(
            f"{place}.",
            Text(place_words(channel.cost)),
            f"{channel.cost.cost:.3f}",
            NONE if hardware is None else f"{hardware:.3f}",
            _finding(channel),
        )
    return table


def _finding(channel: ChannelExplanation) -> str:
    words = finding_words(channel)
    stretches = () if channel.account is None else largest_stretches(channel.account, 1)
    if channel.account is None or not stretches:
        return words
    part = share(round(stretches[0].loss / channel.account.total, 2))
    by = "" if stretches[0].mostly == channel.cost.mostly else f", mostly {stretches[0].mostly}"
    return f"{words}; {stretch_words(stretches[0])} costs {part} of it{by}"


def _print_shared(console: Console, found: Explanation) -> None:
    rows = [(case, cluster) for case in found.load_cases for cluster in case.clusters]
    if not rows:
        console.print("none")
        return
    table = TextTable()
    table.add_column("load case")
    table.add_column("points", justify="right")
    table.add_column("similarity", justify="right")
    table.add_column("channels", is_text=True)
    lines: list[tuple[float, tuple[str, str, str, Text]]] = []
    for case, cluster in rows:
        costs = _by_name(found, case)
        words = cluster_words(cluster, {name: one.words for name, one in costs.items()}, case.step_s)
        cost = sum(costs[name].cost for name in cluster.names)
        lines.append((cost, (case.load_case, f"{cost:.3f}", f"{cluster.least_likeness:.2f}", Text(words))))
    for _, cells in sorted(lines, key=lambda line: -line[0]):
        table.add_row(*cells)
    console.print(table)


def _by_name(found: Explanation, case: LoadCaseExplanation) -> dict[str, ChannelCost]:
    return {one.channel: one for one in found.costs if one.load_case == case.load_case}


def _print_suspects(console: Console, found: Explanation) -> None:
    channels = [*found.channels, *found.unrated]
    suspected = [channel for channel in channels if channel.suspects]
    shifted = [(case.load_case, case.time_zero) for case in found.load_cases if case.time_zero]
    for channel in channels:
        if channel.model_is_zero:
            console.print(f"{place_words(channel.cost)}: {MODEL_IS_ZERO}", markup=False)
    if not suspected and not shifted:
        console.print(NO_SUSPECT_OF_RELEASE)
    for name, suspect in shifted:
        console.print(f"{name}, {ALL_CHANNELS}", markup=False)
        print_indented(console, suspect_words(suspect))
    for channel in suspected:
        against = f", against {channel.repeat}" if channel.repeat else ""
        console.print(f"{place_words(channel.cost)}{against}", markup=False)
        for suspect in channel.suspects:
            print_indented(console, suspect_words(suspect))


def _print_hints(console: Console, found: Explanation) -> None:
    for case in found.load_cases:
        told = case.rated or found.missing_counts_zero
        console.print(f"{case.load_case}, {points(case.cost) if told else 'not rated'}", markup=False)
        words = {name: one.words for name, one in _by_name(found, case).items()}
        for line in hint_lines(case, words):
            print_indented(console, line)


MOST_PRINTED_STRETCHES: Final = 5
"""Stretches of time that are printed."""
NONE: Final = "–"


def print_pair_explanation(console: Console, found: PairExplanation, *, top: int) -> None:
    """Print where one pair loses its rating and what may lie behind it."""
    score, title = found.score, channel_title(found.score.reference.channel)
    console.print(
        f"{title} against {score.candidate.channel}: {_headline(found)}",
        style="bold",
        markup=False,
    )
    for flag in score.flags:
        print_indented(console, f"{flag.name}: {flag.sentence}")
    print_heading(console, "Where it is lost")
    _print_account(console, found.account, min(top, MOST_PRINTED_STRETCHES))
    print_heading(console, "What a change of the model curve would gain")
    if found.model_is_zero:
        print_indented(console, MODEL_IS_ZERO)
    else:
        console.print(_what_if_table(found.what_if, score.reference.unit))
    print_heading(console, "Suspected data-handling errors")
    for suspect in found.suspects:
        print_indented(console, suspect_words(for_a_pair(suspect)))
    if not found.suspects:
        print_indented(console, MODEL_IS_ZERO if found.model_is_zero else NO_SUSPECT)
    print_heading(console, "Features that differ")
    if found.differences:
        console.print(_difference_table(found.differences[:top]))
    else:
        print_indented(console, "none can be determined: the model is zero throughout")
    print_heading(console, "Hints about what may be wrong in the model")
    for words in _hints(found, title):
        print_indented(console, words)
    print_cautions(console)


def _headline(found: PairExplanation) -> str:
    rating = found.score.rating
    if found.model_is_zero:
        return f"{MODEL_IS_ZERO} The rating of {rating.overall:.3f} says nothing of such a model."
    lost = f"{points(found.account.total)} lost"
    largest = int(rating.settings.largest_shift * len(rating.pair))
    delay = delay_in_words(rating.shift_s) + (LIMIT_OF_SEARCH if abs(rating.shift_samples) >= largest else "")
    return f"rating {rating.overall:.3f} ({rating.grade}), {lost}, {delay}"


def _hints(found: PairExplanation, title: str) -> list[str]:
    if found.model_is_zero:
        return ["none can be determined: the model is zero throughout"]
    if found.silence:
        return [no_hints(found.silence)]
    said = [hint_words(hint, {found.score.reference.channel: title}) for hint in shown_hints(found.hints)]
    return said or [NO_HINT]


def _print_account(console: Console, account: LossAccount, count: int) -> None:
    table = TextTable()
    table.add_column("component")
    table.add_column("points", justify="right")
    table.add_column("")
    for name, loss in sorted(account.by_component.items(), key=lambda item: -item[1]):
        clamped = "beyond the limit, divided in proportion to error" if name in account.clamped else ""
        table.add_row(name, f"{loss:.3f}", clamped)
    console.print(table)
    for stretch in largest_stretches(account, count):
        console.print(f"{stretch_words(stretch)}: {points(stretch.loss)}, mostly {stretch.mostly}")


def _what_if_table(found: WhatIf, unit: str) -> TextTable:
    table = TextTable()
    table.add_column("change")
    table.add_column("best", is_text=True)
    table.add_column("rating", justify="right")
    table.add_column("gain", justify="right")
    for name in CHANGES:
        best = getattr(found, name)
        words = change_words(best.change, unit, best.at_limit) or "none helps"
        table.add_row(name, Text(words), f"{best.rating.overall:.3f}", f"{best.gain:+.3f}")
    return table


def _difference_table(differences: Sequence[FeatureDifference]) -> TextTable:
    table = TextTable()
    table.add_column("feature")
    for heading in ("test", "model", "difference"):
        table.add_column(heading, justify="right")
    table.add_column("unit")
    table.add_column("explains", justify="right")
    for one in differences:
        factor, unit = (1e3, "ms") if one.unit == "s" else (1.0, "" if one.unit == "1" else one.unit)
        values = [_four_digits(value, factor) for value in (one.test, one.model, one.difference)]
        explained = NONE if one.explained is None else f"{one.explained:+.3f}".replace("-", "−")
        table.add_row(one.name, *values, Text(unit_words(unit).replace("*", "·")), explained)
    return table


def _four_digits(value: float | None, factor: float) -> str:
    return NONE if value is None else number(float(f"{value * factor:.4g}"))
