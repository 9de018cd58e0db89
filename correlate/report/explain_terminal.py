"""Where a release loses its rating, in the terminal."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from correlate.campaign.costs import by_component, by_load_case
from correlate.diagnosis.accounting import largest_stretches
from correlate.plots.explanation_words import (
    HINT_CAUTION,
    HINTS_WAIT,
    MODEL_IS_ZERO,
    NO_HINT,
    NO_SUSPECT,
    cluster_words,
    finding_words,
    hint_words,
    place_words,
    points,
    stretch_words,
    suspect_words,
)
from correlate.plots.wording import CAUTION, share

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rich.console import Console

    from correlate.campaign.block import Unrated
    from correlate.campaign.costs import ChannelCost
    from correlate.campaign.explained_case import ChannelExplanation, LoadCaseExplanation
    from correlate.campaign.explanation import Explanation

MOST_HINTS: Final = 2
"""Hints that are printed for a load case."""
NONE: Final = "–"


def print_explanation(console: Console, found: Explanation) -> None:
    """Print which channels cost a release most, and what may lie behind it.

    Parameters
    ----------
    console
        Where to.
    found
        The explanation.
    """
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
    _print_suspects(console, [*found.channels, *found.unrated])
    print_heading(console, "Hints about material behaviour")
    _print_hints(console, found)
    if found.held_out is not None:
        print_heading(console, f"Held-out load cases: rating {found.held_out:.3f}, costs only")
        console.print("by component: " + _sums(by_component(found.held_out_costs)))
        console.print("by load case: " + _sums(by_load_case(found.held_out_costs)))
    print_cautions(console)


def print_heading(console: Console, words: str) -> None:
    """Print the heading of a section, an empty line above it.

    Parameters
    ----------
    console
        Where to.
    words
        Of the heading.
    """
    console.print()
    console.print(words, style="bold")


def print_cautions(console: Console) -> None:
    """Print what suspects, hints and ratings do not say.

    Parameters
    ----------
    console
        Where to.
    """
    console.print()
    console.print(HINT_CAUTION, style="dim")
    console.print(CAUTION, style="dim")


def print_gaps(console: Console, gaps: Sequence[Unrated]) -> None:
    """Print the pairs that could not be rated, those of one reason together.

    Parameters
    ----------
    console
        Where to.
    gaps
        The pairs, with the reason that names the file.
    """
    if not gaps:
        return
    console.print(f"Not rated: {len(gaps)} {'pair' if len(gaps) == 1 else 'pairs'}", style="bold")
    reasons: dict[str, list[str]] = {}
    for gap in gaps:
        reasons.setdefault(gap.reason, []).append(f"{gap.load_case} {gap.channel}")
    for reason, places in reasons.items():
        listed = ", ".join(dict.fromkeys(places))
        print_indented(console, f"{reason} ({len(places)}: {listed})")


def print_indented(console: Console, words: str) -> None:
    """Print a text two columns in, wrapped there.

    Parameters
    ----------
    console
        Where to.
    words
        The text.
    """
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


def _cost_table(channels: Sequence[ChannelExplanation]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("", justify="right")
    table.add_column("channel", overflow="fold", max_width=36)
    table.add_column("points", justify="right")
    table.add_column("hardware", justify="right")
    table.add_column("finding", overflow="fold")
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
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("load case")
    table.add_column("points", justify="right")
    table.add_column("similarity", justify="right")
    table.add_column("channels", overflow="fold")
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


def _print_suspects(console: Console, channels: Sequence[ChannelExplanation]) -> None:
    suspected = [channel for channel in channels if channel.suspects]
    for channel in channels:
        if channel.model_is_zero:
            console.print(f"{place_words(channel.cost)}: {MODEL_IS_ZERO}", markup=False)
    if not suspected:
        console.print(NO_SUSPECT)
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
        said = [hint_words(hint, words) for hint in case.hints[:MOST_HINTS]]
        if case.waiting:
            said.append(f"{', '.join(words[name] for name in case.waiting)}: {HINTS_WAIT}")
        for line in said or [NO_HINT if case.rated else "not rated"]:
            print_indented(console, line)
