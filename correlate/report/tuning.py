"""Tuning in the terminal, as CSV and as text."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from rich.text import Text

from correlate.errors import SettingsError
from correlate.plots.wording import CAUTION
from correlate.report.table import TextTable
from correlate.tuning.emulated import curve_trust
from correlate.tuning.failed_regions import failed_regions
from correlate.tuning.guards import best_row, broken_limits, over_limits_words
from correlate.tuning.runs import HELD_OUT, STATUSES, TRAIN, outcome_name
from correlate.tuning.surrogate import LEAST_Q2, untrusted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rich.console import Console

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.guards import Round
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.predicted import Predicted
    from correlate.tuning.proposals import RunProposal
    from correlate.tuning.release import Confirmation, TunedRelease
    from correlate.tuning.runs import RunTable, TuningState
    from correlate.tuning.saved_emulator import SavedEmulator
    from correlate.tuning.sensitivity import Screening, Sensitivity
    from correlate.tuning.surrogate import Surrogate


def runs_csv(table: RunTable) -> str:
    """Return a line a design point: name, round, status, parameters, outcomes."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["point", "round", "status", *table.space.names, *table.outcomes])
    for row, identity in enumerate(table.identities):
        outcomes = [float(values[row]) for values in table.outcomes.values()]
        writer.writerow(
            [
                identity,
                int(table.rounds[row]),
                table.status[row],
                *(repr(float(value)) for value in table.points[row]),
                *("" if math.isnan(value) else repr(value) for value in outcomes),
            ]
        )
    return out.getvalue()


def changes_text(release: TunedRelease, name: str) -> str:
    """Return the change list of a release as a page of text."""
    lines = [f"# Release {name}: changes against the start point", ""]
    lines += ["| parameter | unit | old | new | change |", "| --- | --- | ---: | ---: | ---: |"]
    for change in release.changes:
        edge = " (at a bound)" if change.at_bound else ""
        lines.append(
            f"| {change.name}{edge} | {change.unit} | {change.old:g} | {change.new:g} | "
            f"{percent_words(change.percent)} |"
        )
    lines += ["", "Gain in rating points:", ""]
    lines += ["| rating | old | new | change |", "| --- | ---: | ---: | ---: |"]
    lines += [
        f"| {gain.outcome} | {gain.old:.3f} | {gain.new:.3f} | {gain.change:+.3f} |" for gain in release.gains
    ]
    if release.losses:
        lines += ["", "Limits violated:", "", *(f"- {loss}" for loss in release.losses)]
    return "\n".join([*lines, "", f"Run {release.run} against {release.start}. {CAUTION}", ""])


def percent_words(percent: float | None) -> str:
    """Return a change in percent in words."""
    return "–" if percent is None else f"{percent:+.1f} %"


NONE = "–"
MOST_PARAMETERS = 3
"""Parameters that are named beside an outcome."""
MOST_OUTCOMES = 6
"""Outcomes that are named beside a parameter."""


def print_fit(
    console: Console,
    surrogates: Sequence[Surrogate],
    moved: Sequence[Sensitivity],
    screened: Sequence[Screening],
) -> None:
    """Print how far each surrogate can be trusted, what moves it, and what each parameter moves."""
    by_outcome = {one.outcome: one for one in moved}
    for one in surrogates:
        console.print(Text(one.outcome), style="bold")
        console.print(Text(f"  {_trust_words(one)}"))
        for words in _movers(by_outcome.get(one.outcome)):
            console.print(Text(f"  influenced by {words}"))
    console.print("'influenced by' gives the total index, with its 95 % interval.", style="dim")
    console.print(f"Nothing is recommended from a surrogate with a Q² under {LEAST_Q2:g}.", style="dim")
    _print_moved_outcomes(console, moved)
    for screening in screened:
        _print_screening(console, screening)


def print_curves(console: Console, saved: SavedEmulator) -> None:
    """Print how well the curves of left-out runs are predicted, channel by channel."""
    if saved.refusal:
        console.print(Text(f"The curves were not emulated: {saved.refusal}"))
        return
    grid = _grid("emulated curve", "Q²", "samples inside 95 %")
    for emulator, curves in zip(saved.emulator.channels, saved.curves, strict=True):
        channel = emulator.channel
        if channel.recorded:
            continue  # it serves windows and criteria; rated channels are listed under their own names
        trust = curve_trust(emulator, curves)
        shown = "the same in every run" if math.isnan(trust.q2) else _number(trust.q2, 2)
        inside = NONE if math.isnan(trust.q2) else f"{trust.inside:.0%}"
        grid.add_row(Text(f"{channel.load_case}, {channel.channel}"), shown, inside)
    console.print(grid)


def print_proposals(
    console: Console, space: ParameterSpace, goal: TuningGoal, proposals: Sequence[RunProposal]
) -> None:
    """Print proposals with predictions and reasons."""
    for number, one in enumerate(proposals, start=1):
        for name in goal.outcomes:
            said = one.predicted[name]
            console.print(
                Text(f"{number}. {name} {said.mean:.3f}, 95 % between {said.low:.3f} and {said.high:.3f}"),
                style="bold",
            )
        console.print(Text(f"   {one.reason}"))
        values = [
            f"{parameter.name} {value:.4g} {parameter.unit}"
            for parameter, value in zip(space.parameters, one.point, strict=True)
        ]
        console.print(Text(f"   {', '.join(values)}"), style="dim")
    console.print(CAUTION, style="dim")


def print_predicted(
    console: Console,
    space: ParameterSpace,
    values: Mapping[str, float],
    predicted: Mapping[str, Predicted],
) -> None:
    """Print the predicted outcomes of a run."""
    for one in space.parameters:
        console.print(Text(f"{one.name} {values[one.name]:.6g} {one.unit}"), style="dim")
    grid = _grid("outcome", "predicted", "95 % between")
    for name, said in predicted.items():
        grid.add_row(Text(name), f"{said.mean:.4g}", f"{said.low:.4g} and {said.high:.4g}")
    console.print(grid)
    console.print("Predicted from emulated curves; a prediction is not a result.", style="dim")
    console.print(CAUTION, style="dim")


def print_success(console: Console, state: TuningState, values: Mapping[str, float], success: float) -> None:
    """Print what became of a run with these values, or how likely it is that one finishes."""
    for point in state.points:
        record = state.records.get(point.identity)
        if record is not None and dict(point.values) == dict(values):
            why = f": {record.message}" if record.message else ""
            console.print(Text(f"{point.identity} was run with these values; {record.status}{why}"))
            return
    if success < 1.0:
        console.print(f"Probability that such a run finishes successfully: {success:.0%}.")


def print_confirmation(
    console: Console,
    table: RunTable,
    found: Confirmation,
    rounds: Sequence[Round],
    goal: TuningGoal,
) -> None:
    """Print what became of a batch, then every round with its held-out load cases."""
    grid = _grid("point", "outcome", "predicted", "95 % between", "rated", "")
    for one in found.outcomes:
        if one.outcome in goal.outcomes:
            grid.add_row(
                Text(table.identities[one.row]),
                Text(one.outcome),
                f"{one.predicted.mean:.3f}",
                f"{one.predicted.low:.3f} and {one.predicted.high:.3f}",
                f"{one.rated:.3f}",
                "held" if one.held else "did not hold",
            )
    console.print(grid)
    for row, status in found.not_done:
        console.print(Text(f"{table.identities[row]} {status}"))
    if found.waiting:
        console.print(f"{found.waiting} of the batch have no run yet.")
    for name in dict.fromkeys(one.outcome for one in found.outcomes):
        console.print(Text(f"{found.words(name)}."))
    console.print(f"Best within the limits: {found.best_before:.3f} before, {found.best_after:.3f} after.")
    _print_over_limits(console, table, goal)
    _print_rounds(console, rounds, goal)


def _print_rounds(console: Console, rounds: Sequence[Round], goal: TuningGoal) -> None:
    grid = _grid(
        "round", "ended\nso far", "not done\nso far", "over limits\nso far", *goal.outcomes, *goal.held_out
    )
    for one in rounds:
        held_out = [
            f"{one.held_out[name]:.3f} ({one.held_out[name] - one.held_out_start[name]:+.3f})"
            for name in goal.held_out
        ]
        raised = [f"{one.raised[name]:.3f}" for name in goal.outcomes]
        counts = (one.number, one.runs, one.not_done, one.over_limits)
        grid.add_row(*(str(count) for count in counts), *raised, *held_out)
    console.print(grid)
    if goal.held_out:
        console.print(
            "Held-out load cases of the best run so far, with the change from the start.", style="dim"
        )


def _print_moved_outcomes(console: Console, moved: Sequence[Sensitivity]) -> None:
    """Print what each parameter moves, by outcomes whose surrogate can be trusted."""
    trusted = [one for one in moved if one.q2 >= LEAST_Q2]
    if not trusted:
        return
    for place, name in enumerate(trusted[0].names):
        order = sorted(trusted, key=lambda one: -one.indices.total[place])[:MOST_OUTCOMES]
        shown = [
            f"{one.outcome} {one.indices.total[place]:.2f}"
            for one in order
            if one.indices.total[place] >= 0.05
        ]
        console.print(Text(f"{name} moves"), style="bold")
        for words in shown or [f"no outcome of {len(trusted)} by 0.05 or more"]:
            console.print(Text(f"  {words}"))


def _print_screening(console: Console, screening: Screening) -> None:
    title = f"screening of {screening.outcome}, {screening.trajectories} trajectories"
    grid = _grid(title, "mean absolute effect", "spread")
    order = sorted(range(len(screening.names)), key=lambda place: -screening.mean_size[place])
    for place in order:
        grid.add_row(
            Text(screening.names[place]),
            f"{screening.mean_size[place]:.3f} ± {screening.mean_size_half_width[place]:.3f}",
            f"{screening.spread[place]:.3f}",
        )
    console.print(grid)


def _trust_words(surrogate: Surrogate) -> str:
    """Say how far a surrogate can be trusted."""
    if surrogate.flat:
        return "the same in every run"
    stated = ", ".join(f"{one.nominal:.0%}" for one in surrogate.coverage)
    inside = ", ".join(_share(one.observed) for one in surrogate.coverage)
    doubt = "; not trusted" if untrusted(surrogate) else ""
    return f"Q² {_number(surrogate.q2, 2)}; intervals for {stated} of the runs held {inside}{doubt}"


def _movers(found: Sensitivity | None) -> list[str]:
    if found is None:
        return []
    index = found.indices
    places = [found.names.index(name) for name in found.strongest()[:MOST_PARAMETERS]]
    return [
        f"{found.names[place]} {index.total[place]:.2f} "
        f"[{index.total_low[place]:.2f}, {index.total_high[place]:.2f}]"
        for place in places
    ]


def _grid(*columns: str) -> TextTable:
    grid = TextTable()
    for word in columns:
        grid.add_column(word)
    return grid


def _share(value: float) -> str:
    return NONE if math.isnan(value) else f"{value:.0%}"


def _number(value: float, digits: int) -> str:
    return NONE if math.isnan(value) else f"{value:.{digits}f}"


def print_runs(console: Console, table: RunTable, state: TuningState, goal: TuningGoal) -> None:
    """Print one line per design point, then why runs are not done."""
    held_out = [(outcome_name("load case", name), name) for name in goal.held_out]
    columns = [*((name, name) for name in goal.outcomes), (TRAIN, TRAIN), (HELD_OUT, HELD_OUT), *held_out]
    shown = {name: words for name, words in dict(columns).items() if name in table.outcomes}
    grid = TextTable()
    for word in ("point", "round", "ended", *shown.values()):
        grid.add_column(word)
    best = _best(table, goal)
    for row, identity in enumerate(table.identities):
        numbers = [_printed_number(float(table.outcomes[name][row])) for name in shown]
        style = "bold" if row == best else ""
        grid.add_row(Text(identity), str(table.rounds[row]), table.status[row], *numbers, style=style)
    console.print(grid)
    _print_reasons(console, state)
    _print_broken_limits(console, table, goal)
    print_ends(console, table)
    if best is not None:
        console.print(f"Best so far within the limits, by {goal.objective}: {table.identities[best]}.")
        _print_over_limits(console, table, goal)
    console.print(CAUTION, style="dim")


def print_ends(console: Console, table: RunTable) -> None:
    """Print how many runs ended how, and where in the parameters they fail."""
    counts = [f"{table.status.count(status)} {status}" for status in STATUSES if status in table.status]
    console.print(f"{len(table)} points: {', '.join(counts)}.")
    regions = failed_regions(table)
    for start, region in zip(("R", "Among the others, r"), regions, strict=False):
        console.print(Text(f"{start}{region.words[1:]}."))
    if not regions and not table.done[table.ended].all():
        console.print("No region of a single parameter explains the failed runs.")


def print_release(console: Console, release: TunedRelease) -> None:
    """Print what a release changes and what that bought."""
    changes = TextTable()
    for word in ("parameter", "old", "new", "change", ""):
        changes.add_column(word)
    for one in release.changes:
        changes.add_row(
            Text(f"{one.name} [{one.unit}]"),
            f"{one.old:g}",
            f"{one.new:g}",
            percent_words(one.percent),
            "at a bound" if one.at_bound else "",
        )
    gains = TextTable()
    for word in ("what it bought", "old", "new", "change"):
        gains.add_column(word)
    for gain in release.gains:
        gains.add_row(Text(gain.outcome), f"{gain.old:.3f}", f"{gain.new:.3f}", f"{gain.change:+.3f}")
    console.print(changes)
    console.print(gains)
    for loss in release.losses:
        console.print(Text(f"Limit violated: {loss}"), style="bold")
    console.print(CAUTION, style="dim")


def _best(table: RunTable, goal: TuningGoal) -> int | None:
    """Return the row of the best run within the limits; None for several objectives, or without one."""
    if len(goal.outcomes) > 1 or goal.outcomes[0] not in table.outcomes:
        return None
    try:
        return best_row(table, goal)
    except SettingsError:
        return None  # the start is not done, or nothing keeps the limits


def _print_broken_limits(console: Console, table: RunTable, goal: TuningGoal) -> None:
    try:
        broken = broken_limits(table, goal)
    except SettingsError:
        return  # the start is not done, so there is nothing to compare with yet
    for limit, rows in broken:
        names = ", ".join(table.identities[row] for row in rows)
        console.print(Text(f"'{limit.outcome}' is below its limit of {limit.least:.3f} in {names}."))


def _print_over_limits(console: Console, table: RunTable, goal: TuningGoal) -> None:
    words = over_limits_words(table, goal)
    if words:
        console.print(Text(f"{words}."))


def _print_reasons(console: Console, state: TuningState) -> None:
    for point in state.points:
        record = state.records.get(point.identity)
        if record is not None and record.message:
            console.print(Text(f"{point.identity} {record.status}: {record.message}"))
            for line in record.log_tail[-3:]:
                console.print(Text(f"    {line}"), style="dim")


def _printed_number(value: float) -> str:
    return NONE if math.isnan(value) else f"{value:.3f}"
