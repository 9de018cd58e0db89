"""``correlate tune``: what the runs say: ``fit``, ``propose``, ``confirm`` and ``write``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from correlate.cli.tune import tuning_argument, warn_of_old_ratings
from correlate.errors import SettingsError
from correlate.spelling import is_taken, unclear

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.campaign import Campaign
    from correlate.statistics import Estimate
    from correlate.tuning.definition import Tuning
    from correlate.tuning.fitted_curves import FittedCurves
    from correlate.tuning.guards import Gain
    from correlate.tuning.overview import MadeFit
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.release import TunedRelease
    from correlate.tuning.runs import RunTable, TuningState
    from correlate.tuning.surrogate import Surrogate


@click.command()
@tuning_argument
@click.option(
    "--outcome", "outcomes", multiple=True, metavar="NAME", help="Fit only this, unsaved; may be repeated."
)
@click.option("--all", "every", is_flag=True, help="Also every component and feature; takes minutes.")
@click.option("--seed", type=int, default=0, show_default=True, help="Of the sampling.")
def fit_command(*, tuning_file: Path, outcomes: tuple[str, ...], every: bool, seed: int) -> None:
    """Fit surrogates to the finished runs of TUNING, save them, and show how reliable they are.

    For each: the share of the variance that is predicted for left-out runs (Q²), the coverage of its
    intervals, and the most influential parameters with their total Sobol' index. The tuning page shows the
    same fit.
    """
    from rich.console import Console

    from correlate.report.tuning import print_curves, print_ends, print_fit
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.runs import read_state, run_table
    from correlate.tuning.sensitivity import screen, sensitivities, trajectories

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    warn_of_old_ratings(tuning, state)
    table = run_table(tuning, state)
    console = Console(highlight=False)
    found = None if outcomes else _fit_of_project(tuning, state, seed=seed)
    fitted = [] if found is None else list(found.fit.surrogates.values())
    moved = [] if found is None else list(found.fit.sensitivities.values())
    known = {one.outcome for one in fitted}
    further = outcomes or (every_outcome(table) if every else ())
    new = _fitted(table, [name for name in further if name not in known])
    moved += sensitivities([one for one in new if not one.flat], seed=seed)
    complete = [rows for rows in trajectories(table) if table.done[rows].all()]
    screened = [screen(table, name, seed=seed) for name in tuning.goal.outcomes] if len(complete) > 1 else []
    print_fit(console, [*fitted, *new], moved, screened)
    print_ends(console, table)
    if found is not None:
        print_curves(console, found.curves)
        for words in found.fit.bounds:
            console.print(f"{words}.")
        click.echo(_kept_words(tuning))


def _fit_of_project(tuning: Tuning, state: TuningState, *, seed: int) -> MadeFit:
    """Fit what the tuning page shows, and save it where that is allowed."""
    from rich.console import Console
    from rich.progress import Progress

    from correlate.files import may_write
    from correlate.tuning.overview import make_fit, save_fit

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("fitting", total=1.0)

        def tell(done: float, words: str) -> None:
            bar.update(task, completed=done, description=words)

        found = make_fit(tuning, state, seed=seed, progress=tell)
    if may_write(tuning.folder):
        save_fit(found)
    return found


def _kept_words(tuning: Tuning) -> str:
    from correlate.files import may_write

    if may_write(tuning.folder):
        return f"saved in {tuning.folder}: fit.json and fit.npz; the tuning page shows this fit"
    return "the project is read-only; this fit was not saved, and the tuning page does not show it"


def every_outcome(table: RunTable) -> list[str]:
    """Name every rating, component and feature."""
    return [name for name in table.outcomes if not name.startswith(("spread/", "window/"))]


def _fitted(table: RunTable, names: Sequence[str]) -> list[Surrogate]:
    from rich.console import Console
    from rich.progress import track

    from correlate.tuning.surrogate import fit_surrogate

    console = Console(stderr=True)
    shown = track(names, "fitting", console=console, transient=True, disable=not console.is_terminal)
    return [fit_surrogate(table, name) for name in shown]


@click.command()
@tuning_argument
@click.option("--runs", type=click.IntRange(min=1), default=8, show_default=True, help="How many.")
@click.option("--seed", type=int, default=0, show_default=True, help="Equal seeds give equal proposals.")
@click.option(
    "--least-q2",
    type=click.FloatRange(0, 1),
    default=0.5,
    show_default=True,
    help="Propose nothing from a surrogate that predicts less than this share of the variance.",
)
@click.option("--dry", is_flag=True, help="Only show them; do not change design.csv.")
def propose_command(*, tuning_file: Path, runs: int, seed: int, least_q2: float, dry: bool) -> None:
    """Propose the next design points of TUNING and add them to design.csv as a new round.

    Each has its predicted rating with the interval that should contain 95 of 100 runs, the probability that
    the limits are met, and its reason. 'correlate tune run' runs them, 'correlate tune confirm' shows whether
    the predictions held.
    """
    from rich.console import Console

    from correlate.report.tuning import print_proposals
    from correlate.tuning.bounds import bound_gains
    from correlate.tuning.calibration import calibrations, kept_predictions
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.fitting import predictor_of
    from correlate.tuning.proposals import add_batch, propose
    from correlate.tuning.runs import read_state, run_table

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    warn_of_old_ratings(tuning, state)
    table = run_table(tuning, state)
    calibration = calibrations(kept_predictions(tuning, state, table))
    predictor = predictor_of(table, tuning.goal, _curves(tuning, state, table))
    proposals = propose(table, predictor, tuning.goal, runs, seed, least_q2=least_q2, calibration=calibration)
    console = Console(highlight=False)
    print_proposals(console, tuning.space, tuning.goal, proposals)
    for gain in bound_gains(table, predictor, tuning.goal):
        console.print(f"{gain.words}.")
    if dry:
        click.echo("nothing was written")
        return
    added = add_batch(tuning, state, proposals)
    click.echo(f"round {added[0].round}: {added[0].identity} to {added[-1].identity} in {tuning.design_file}")


def _curves(tuning: Tuning, state: TuningState, table: RunTable) -> FittedCurves | None:
    """Fit the emulator of curves; if that fails, say why, and that ratings are predicted instead."""
    from correlate.errors import CorrelateError
    from correlate.tuning.fitted_curves import fit_curves

    try:
        return fit_curves(tuning, state, table)
    except CorrelateError as error:
        click.echo(f"the curves were not emulated ({error}); the ratings themselves are predicted", err=True)
        return None


@click.command()
@tuning_argument
@click.option(
    "--point", "identity", metavar="NAME", help="Start from a design point.  [default: the best run]"
)
@click.option(
    "--set", "changes", multiple=True, metavar="NAME=VALUE", help="Value of a parameter; may be repeated."
)
@click.option(
    "--outcome",
    "wanted",
    multiple=True,
    metavar="PATTERN",
    help="Only outcomes such as 'feature/*/peak'; may be repeated.  [default: ratings, windows, criteria]",
)
def predict_command(
    *, tuning_file: Path, identity: str | None, changes: tuple[str, ...], wanted: tuple[str, ...]
) -> None:
    """Predict the outcomes of a run of TUNING from emulated curves, without running it.

    Every outcome is computed from the emulated curves, with the interval that should contain 95 of 100 such
    runs.
    """
    from rich.console import Console

    from correlate.report.tuning import print_predicted, print_success
    from correlate.tuning.calibration import calibrations, kept_predictions
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.fitted_curves import fit_curves
    from correlate.tuning.guards import best_row
    from correlate.tuning.predicted import predicted_of
    from correlate.tuning.prediction import predict_from_curves
    from correlate.tuning.runs import read_state, run_table
    from correlate.tuning.search import fit_success

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    warn_of_old_ratings(tuning, state)
    table = run_table(tuning, state)
    values = (
        tuning.space.as_values(table.points[best_row(table, tuning.goal)])
        if identity is None
        else dict(state.point(identity).values)
    )
    values |= changed_values(tuning.space, changes)
    names = matching_outcomes(table, wanted)
    curves = fit_curves(tuning, state, table)
    cube = tuning.space.to_unit(tuning.space.as_point(values))
    drawn = predict_from_curves(curves.emulator, curves.rater, cube, names)
    calibration = calibrations(kept_predictions(tuning, state, table))
    predicted = {name: predicted_of(draws, name, calibration.get(name)) for name, draws in drawn.items()}
    console = Console(highlight=False)
    print_predicted(console, tuning.space, values, predicted)
    print_success(console, state, values, float(fit_success(table).chance(cube[None, :])[0]))


def changed_values(space: ParameterSpace, changes: Sequence[str]) -> dict[str, float]:
    """Read the values that the command line gives."""
    known = {one.name: one for one in space.parameters}
    found = {}
    for text in changes:
        name, _, written = text.partition("=")
        if name not in known:
            raise SettingsError(f"there is no parameter '{name}'", remedy=f"choose one of {', '.join(known)}")
        try:
            value = float(written)
        except ValueError:
            raise SettingsError(
                f"'{written}' is not a number", where=f"--set {text}", remedy="write NAME=VALUE"
            ) from None
        if name in found:
            raise SettingsError(f"'{name}' is set twice", where=f"--set {text}", remedy="give one value")
        one = known[name]
        if not one.lower <= value <= one.upper:
            raise SettingsError(
                f"{written} is outside {one.lower:g} to {one.upper:g}",
                where=f"--set {text}",
                remedy="choose a value inside the bounds, where the emulator is fitted",
            )
        found[name] = value
    return found


def matching_outcomes(table: RunTable, wanted: Sequence[str]) -> list[str]:
    """Return the outcomes that match a pattern; without one, ratings, windows and criteria."""
    from fnmatch import fnmatchcase

    usual = ("train", "held-out", "overall", "worst channel", "load case/*", "window/*", "criterion/*")
    patterns = wanted or usual
    found = [name for name in table.outcomes if any(fnmatchcase(name, one) for one in patterns)]
    if not found:
        table.outcome(patterns[0])  # its error names similar outcomes
        raise SettingsError(f"no outcome matches '{patterns[0]}'", remedy="see 'correlate tune show --csv'")
    return found


@click.command()
@tuning_argument
@click.option(
    "--round", "round_number", type=click.IntRange(min=1), metavar="N", help="The batch.  [default: the last]"
)
@click.option("--seed", type=int, default=0, show_default=True, help="Of the sampling.")
def confirm_command(*, tuning_file: Path, round_number: int | None, seed: int) -> None:
    """Rate the runs of a proposed batch of TUNING and show whether the predictions held.

    Also show every round with its held-out load cases, whether the gain exceeds the scatter of the tests from
    one repeat to the next, which parameters are at a bound, and which are not determined by the rating or by
    the curves of the tests.
    """
    from rich.console import Console

    from correlate.plots.wording import as_sentence
    from correlate.report.tuning import print_confirmation
    from correlate.tuning.calibration import calibration_words, kept_predictions
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.guards import (
        best_row,
        bound_words,
        rounds_of,
    )
    from correlate.tuning.missing_runs import rate_unrated
    from correlate.tuning.proposals import last_round, read_batch
    from correlate.tuning.rating import RunRater
    from correlate.tuning.release import confirm
    from correlate.tuning.runs import read_state, run_table

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    rate_unrated(tuning, state, RunRater(tuning))
    state = read_state(tuning)
    warn_of_old_ratings(tuning, state)
    table = run_table(tuning, state)
    number = round_number or last_round(state)
    until = table.select(table.rounds <= number)
    found = confirm(table.select(table.rounds < number), until, read_batch(tuning, number), tuning.goal)
    best = best_row(table, tuning.goal)
    gain = gain_of(tuning, table)
    console = Console(highlight=False)
    print_confirmation(console, until, found, rounds_of(table, tuning.goal), tuning.goal)
    for words in calibration_words(kept_predictions(tuning, state, table), tuning.goal.outcomes):
        console.print(f"{words}.")
    console.print(f"Best run: {table.identities[best]}; {gain.words}.")
    near = _near_best_words(tuning, table, gain.estimate, seed=seed)
    undetermined = _undetermined_words(tuning, state, table)
    for words in (*bound_words(tuning.space, table.points[best]), *near, *undetermined):
        console.print(as_sentence(words))


def gain_of(tuning: Tuning, table: RunTable) -> Gain:
    """Compare the rise of the training rating with chance between the repeats of the tests."""
    from correlate.campaign import load_campaign
    from correlate.tuning.guards import (
        Gain,
        best_row,
        gain_over_repeats,
        moved_by_repeats,
        start_row,
    )
    from correlate.tuning.rating import checked_cases
    from correlate.tuning.runs import TRAIN

    best, start = best_row(table, tuning.goal), start_row(table)
    cases = checked_cases(tuning, load_campaign(tuning.campaign_file))
    weights = {case.name: case.weight for case in cases if case.name in tuning.goal.train}
    train = table.outcome(TRAIN)
    return Gain(
        before=float(train[start]),
        after=float(train[best]),
        estimate=gain_over_repeats(_by_repeat(table, start), _by_repeat(table, best), weights),
        by_repeats=moved_by_repeats(_by_repeat(table, best), weights),
    )


def _by_repeat(table: RunTable, row: int) -> dict[str, dict[str, float]]:
    """Return the rating of each repeat of a run, by load case."""
    found: dict[str, dict[str, float]] = {}
    for name, values in table.outcomes.items():
        kind, _, rest = name.partition("/")
        if kind == "repeat" and values[row] == values[row]:
            case, _, repeat = rest.partition("/")
            found.setdefault(case, {})[repeat] = float(values[row])
    return found


def _near_best_words(tuning: Tuning, table: RunTable, gain: Estimate | None, *, seed: int) -> tuple[str, ...]:
    """Say which parameters the rating does not determine, by the surrogate of the first objective."""
    from correlate.tuning.guards import best_row
    from correlate.tuning.near_optimal import near_optimal
    from correlate.tuning.surrogate import fit_surrogate, untrusted

    if gain is None:
        return (
            "with one repeat per load case, parameters that the rating does not determine cannot be found",
        )
    surrogate = fit_surrogate(table, tuning.goal.outcomes[0])
    if untrusted(surrogate):
        told = f"the surrogate is not reliable enough (Q² {surrogate.q2:.2f})"
        return (f"{told} to find parameters that the rating does not determine",)
    best = table.points[best_row(table, tuning.goal)]
    return near_optimal(tuning.space, surrogate.mean_cube, best, gain.half_width(), seed=seed).words


def _undetermined_words(tuning: Tuning, state: TuningState, table: RunTable) -> tuple[str, ...]:
    """Say what the curves of the tests do not determine at the best run."""
    from correlate.errors import CorrelateError
    from correlate.tuning.cards import identified

    try:
        return identified(tuning, state, table).words
    except CorrelateError as error:
        return (f"which parameters the curves of the tests determine is unknown: {error}",)


@click.command()
@tuning_argument
@click.option("--run", "identity", required=True, metavar="POINT", help="Run to release.")
@click.option("--release", "name", required=True, metavar="NAME", help="Release name.")
@click.option("--folder", metavar="FOLDER", help="Relative to the campaign file.  [default: releases/NAME]")
@click.option("--note", default="", help="Note, saved in the campaign file.")
@click.option("--despite-losses", is_flag=True, help="Write it although it violates a limit of TUNING.")
def write_command(
    *, tuning_file: Path, identity: str, name: str, folder: str | None, note: str, despite_losses: bool
) -> None:
    """Write the deck and the results of a run as a new release of the campaign of TUNING.

    The change list beside them gives the old value, the new value and the change of each parameter, and the
    gain in rating. The release is added at the end of the campaign file; the rest of it is unchanged.
    """
    from rich.console import Console

    from correlate.campaign import Release, load_campaign
    from correlate.campaign.new_release import new_release, remove_interrupted
    from correlate.report.tuning import (
        changes_text,
        print_release,
    )
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.release import change_list, write_release
    from correlate.tuning.runs import read_state

    tuning = load_tuning(tuning_file)
    campaign = load_campaign(tuning.campaign_file)
    release = change_list(tuning, read_state(tuning), identity)
    _refuse_losses(release, despite_losses=despite_losses)
    place = folder or f"releases/{name}"
    remove_interrupted(campaign.path, (campaign.folder / place).parent)
    _refuse_name(campaign, name)
    files = {"changes.md": changes_text(release, name)}
    words = {"name": name, "folder": place, "layout": tuning.rated.layout, "note": note or _note(release)}
    with new_release(campaign.path, Release.model_validate(words)) as results:
        write_release(tuning, release, results, name=name, files=files)
    print_release(Console(highlight=False), release)
    click.echo(f"release {name} in {campaign.folder / place}, and in {campaign.path}")


def _refuse_name(campaign: Campaign, name: str) -> None:
    if is_taken(name, [one.name for one in campaign.releases]):
        raise SettingsError(
            f"a release '{name}' already exists", where=str(campaign.path), remedy="choose another name"
        )
    if not re.fullmatch(r"[\w.+-]+", name):
        raise SettingsError(
            f"'{name}' is not a valid release name", remedy="use letters, digits and '.', '+', '-', '_'"
        )
    if reason := unclear(name):
        raise SettingsError(f"the release name {name!r} {reason}", remedy="type it again")


def _note(release: TunedRelease) -> str:
    return f"Tuned, point {release.run}"


def _refuse_losses(release: TunedRelease, *, despite_losses: bool) -> None:
    if release.losses and not despite_losses:
        raise SettingsError(
            f"point '{release.run}' violates limits: {'; '.join(release.losses)}",
            remedy="choose another run, or write it with --despite-losses",
        )
