"""Emulated curves on the tuning page: sliders, what moves a curve, and predictions against results."""

from __future__ import annotations

import base64
import shutil
from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
import numpy as np
import plotly.graph_objects as go
import pytest
from dash import no_update

from correlate import emulator_of_project, fit_tuning, tuning_overview
from correlate.tuning.definition import load_tuning
from correlate.tuning.runs import read_state, run_table
from dashboard.pages.tuning.curves import (
    moved,
    picked_address,
    read_point,
    settled,
    show_curves,
    written_point,
)
from dashboard.pages.tuning.layout import KEYS
from dashboard.pages.tuning.predictions import show_predictions
from dashboard.selection import read_query
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import properties, text
from tests.dashboard.tuned_project import write_tuning
from tests.tuning.test_kept_predictions import proposal, propose_and_run

if TYPE_CHECKING:
    from pathlib import Path

HEAD_X = "?case=drop&channel=D0HEAD0000KMACXP"


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project and fit it once; tests that change files copy it."""
    folder = write_tuning(write_project(tmp_path_factory.mktemp("tuned")))
    fit_tuning(folder, runs=1)
    return folder


@pytest.fixture
def changed(fitted: Path, tmp_path: Path) -> Path:
    """Return a copy of it."""
    shutil.copytree(fitted, tmp_path / "changed")
    return tmp_path / "changed"


def slider_ids(page: dict[str, Any]) -> list[int]:
    """Return the parameters of the sliders in the order of the page."""
    return [one["id"]["place"] for one in properties(page["sliders"], dmc.Slider)]


def test_the_first_channel_stands_at_the_best_run(fitted: Path) -> None:
    """Without an address: first load case and channel, sliders at the best run, tests and runs behind."""
    page = show_curves(Project(fitted), "", "light")
    assert (page["hidden"], page["body_hidden"], page["still"], page["moves_hidden"]) == (False,) * 4
    assert (page["case"], page["channel"]) == ("drop", "D0HEAD0000KMACXP")
    overview = tuning_overview(fitted)
    assert overview.best is not None
    best = overview.table.space.to_unit(overview.table.points[overview.best])
    stand = {one["id"]["place"]: one["value"] for one in properties(page["sliders"], dmc.Slider)}
    assert [stand[0], stand[1]] == pytest.approx(best.tolist())
    names = [trace.name for trace in page["figure"].data]
    assert names[1:3] == ["95 % interval of a new run", "emulated curve"]
    assert names.count("tests") == 2
    assert names[-2:] == ["run at the start point", "best run"]
    assert page["figure"].layout.yaxis.title.text == "Head acceleration X [m/s²]"
    assert page["figure"].layout.xaxis.title.text == "time [ms]"
    assert "predicted" in text(page["predicted"])
    assert "not of a run" in text(page["predicted"])
    assert "p000" in text(page["rated"])


def test_words_tell_how_far_a_channel_can_be_trusted(fitted: Path) -> None:
    """Q² of the curves and the share of samples inside the band, from left-out runs."""
    words = text(show_curves(Project(fitted), HEAD_X, "light")["trust"])
    assert "Curves of 11 runs, each predicted from the others: Q² " in words
    assert "of their samples are inside the 95 % band" in words


def test_the_curve_follows_a_slider(fitted: Path) -> None:
    """Only the samples of the first three traces are sent, those of the emulator; values in units."""
    project = Project(fitted)
    page = show_curves(project, HEAD_X, "light")
    places = slider_ids(page)
    values = [0.25 if place == 0 else 0.75 for place in places]
    figure, rating, shown, spoken = moved(project, values, places, page["shown"])
    operations = figure.to_plotly_json()["operations"]
    assert [one["location"] for one in operations] == [
        ["data", trace, axis] for trace in range(3) for axis in ("x", "y")
    ]
    sent = np.frombuffer(base64.b64decode(operations[5]["params"]["value"]["bdata"]), dtype="<f4")
    saved = emulator_of_project(fitted)
    assert saved
    expected = saved.emulator.channels[0].predict(np.array([[0.25, 0.75]]))[0]
    np.testing.assert_allclose(sent, expected, rtol=1e-6, atol=1e-4)
    assert "predicted" in text(rating)
    # 1 to 100 on a logarithmic scale, and 0 to 4 on a linear one.
    told = dict(zip(places, shown, strict=True))
    assert told == {0: "3.162", 1: "3"}
    assert [one["thumb"]["aria-valuetext"] for one in spoken] == shown


def test_a_link_leads_to_the_same_curve(fitted: Path) -> None:
    """What rests is written by name and value and read again; the other keys of the address stay."""
    project = Project(fitted)
    page = show_curves(project, HEAD_X, "light")
    places = slider_ids(page)
    values = [0.25 if place == 0 else page["shown"]["base"][1] for place in places]
    search, shown = settled(project, values, places, f"{HEAD_X}&outcome=train", page["shown"])
    asked = read_query(search, ["at", "outcome", "channel"])
    assert asked == {"at": "skin:3.162", "outcome": "train", "channel": "D0HEAD0000KMACXP"}
    assert shown["asked"]["at"] == "skin:3.162"
    again = show_curves(project, search, "light")
    stand = {one["id"]["place"]: one["value"] for one in properties(again["sliders"], dmc.Slider)}
    assert stand[0] == pytest.approx(0.25, abs=1e-4)
    assert stand[1] == pytest.approx(page["shown"]["base"][1])
    assert settled(project, values, places, search, shown) == (no_update, no_update)
    # The address was changed meanwhile, and the sliders have not been moved since they were drawn.
    assert settled(project, values, places, HEAD_X, shown) == (no_update, no_update)


def test_a_point_in_an_address_is_read_with_care(fitted: Path) -> None:
    """Unknown names, words and what is not finite are passed over; a value beyond a bound stays at it."""
    saved = emulator_of_project(fitted)
    assert saved
    base = np.array([0.5, 0.5])
    for words, point in (
        ("", [0.5, 0.5]),
        ("nothing:3,skin:word,rubber:nan,:,skin", [0.5, 0.5]),
        ("skin:1e9,rubber:-4", [1.0, 0.0]),
        ("rubber:1", [0.5, 0.25]),
    ):
        assert read_point(saved.space, words, base).tolist() == pytest.approx(point), words
    assert written_point(saved.space, base, base) == ""


def test_menus_are_written_into_the_address() -> None:
    """Another load case forgets the channel and keeps the point; menus that the page filled write nothing."""
    search = "?case=drop&channel=a&at=skin%3A3&job=7"
    before = {"case": "drop", "channel": "a", "moves": "share"}
    after = picked_address(before | {"case": "impact"}, search, {"menus": before})
    assert read_query(after, KEYS) == dict.fromkeys(KEYS, "") | {
        "case": "impact",
        "at": "skin:3",
        "moves": "share",
        "job": "7",
    }
    after = picked_address(before | {"channel": "b"}, search, {"menus": before})
    assert read_query(after, KEYS)["channel"] == "b"
    assert picked_address(before, search, {"menus": before}) is no_update
    assert picked_address(before, search, None) is no_update


def test_what_moves_a_curve_is_drawn_over_time(fitted: Path) -> None:
    """A row for each parameter that moves it; shares from 0 to 1, or changes with the unit of the channel."""
    page = show_curves(Project(fitted), HEAD_X, "light")
    shares = page["moves_figure"].data[1]
    assert set(shares.y) == {"skin", "rubber"}
    assert (shares.zmin, shares.zmax) == (0.0, 1.0)
    assert "Share of the variance" in page["moves_words"]
    page = show_curves(Project(fitted), f"{HEAD_X}&moves=change", "dark")
    changes = page["moves_figure"].data[1]
    assert page["moves"] == "change"
    assert changes.zmin == -changes.zmax
    assert changes.colorbar.title.text == "change [m/s²]"
    # The skin raises the pulse from 150 to 230 m/s² over its range.
    skin = np.array(changes.z)[list(changes.y).index("skin")]
    assert 70 < skin.max() < 90


def test_a_channel_that_never_moves_has_no_sliders(changed: Path) -> None:
    """It is drawn and said to be the same in every run; nothing is said to move it."""
    for number in range(1, 11):
        for name in ("drop.csv", "impact.csv"):
            shutil.copy(changed / "runs/p000/output" / name, changed / f"runs/p{number:03d}/output" / name)
    for file in changed.glob("runs/*/traces.npz"):
        file.unlink()
    fit_tuning(changed, runs=1)
    page = show_curves(Project(changed), HEAD_X, "light")
    assert "the same in every run" in text(page["trust"])
    assert (page["still"], page["sliders"], page["moves_hidden"]) == (True, [], True)
    assert isinstance(page["figure"], go.Figure)


def test_without_curves_the_reason_is_said(fitted: Path, changed: Path) -> None:
    """No fit, curves that are gone, a channel that is not there, and curves of older runs."""
    shutil.copy(changed / "fit.npz", changed / "older.npz")
    (changed / "fit.npz").unlink()
    page = show_curves(Project(changed), "", "light")
    assert "has no emulated curves; fit again" in text(page["words"])
    assert (page["hidden"], page["moves_hidden"]) == (True, True)
    assert show_curves(Project(changed), "", "light")["shown"] == {
        "asked": dict.fromkeys(("case", "channel", "at", "moves"), "")
    }
    (changed / "fit.json").unlink()
    assert "No curves have been emulated yet" in text(show_curves(Project(changed), "", "light")["words"])
    page = show_curves(Project(fitted), "?case=drop&channel=nothing", "light")
    assert "was not emulated" in text(page["trust"])
    assert (page["channel"], page["body_hidden"], page["moves_hidden"]) == (None, True, True)


def test_curves_of_older_runs_are_shown_as_such(changed: Path) -> None:
    """With a run more, the curves stay and are marked."""
    shutil.rmtree(changed / "runs/p011")
    page = show_curves(Project(changed), "", "light")
    assert "fitted to the earlier runs" in text(page["words"])
    assert not page["hidden"]


def test_predictions_are_compared_with_results(changed: Path) -> None:
    """Two rounds: how many were inside, the errors by round, a mark for what came outside."""
    page = show_predictions(Project(changed), None, "light")
    assert page["hidden"]
    assert "Nothing has been proposed yet" in text(page["words"])
    propose_and_run(changed, [proposal(20.0, 1.0, mean=0.8, half=0.05)], [])
    assert "none of them is finished" in text(show_predictions(Project(changed), None, "light")["words"])
    batch = [proposal(30.0, 1.5, mean=0.8, half=0.05), proposal(40.0, 3.0, mean=0.8, half=0.02)]
    propose_and_run(changed, batch, [0.82, 0.7])
    page = show_predictions(Project(changed), None, "dark")
    assert (page["hidden"], page["outcome"]) == (False, "train")
    assert "1 of 2 runs are inside their predicted 95 % intervals" in text(page["words"])
    assert "0.040 lower than predicted" in text(page["words"])
    assert [trace.name for trace in page["figure"].data] == [
        "95 % interval of the prediction",
        "rated, inside the interval",
        "rated, outside the interval",
    ]
    assert page["figure"].layout.yaxis.title.text == "train: rated minus predicted"
    assert "1 (50%)" in text(page["table"])
    assert "−0.040" in text(page["table"])


def test_a_torn_batch_is_said(changed: Path) -> None:
    """The card names the file; nothing is drawn."""
    propose_and_run(changed, [proposal(20.0, 1.0, mean=0.8, half=0.05)], [0.8])
    (changed / "batches/round-1.json").write_text("[{", encoding="utf-8")
    page = show_predictions(Project(changed), None, "light")
    assert "is not a batch of proposals" in text(page["words"])
    assert page["hidden"]


def test_a_project_that_cannot_be_read_shows_nothing(changed: Path) -> None:
    """It is said in the place of the runs."""
    tuning = load_tuning(changed)
    assert len(run_table(tuning, read_state(tuning))) == 13
    (changed / "tuning.toml").unlink()
    assert show_curves(Project(changed), "", "light")["words"] is no_update
    assert show_predictions(Project(changed), None, "light")["words"] is no_update
