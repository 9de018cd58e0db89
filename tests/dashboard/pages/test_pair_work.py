"""The pair page at work: overlays, sliders, zoom, reasons and what is taken away."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from dash import dcc, html, no_update
from plotly.utils import PlotlyJSONEncoder

from correlate import (
    CaseEvaluation,
    RunInfo,
    campaign_ceilings,
    case_scatter,
    load_campaign,
    open_store,
    read,
    score_into,
)
from dashboard import ids
from dashboard.access import Role
from dashboard.access.account import needs_of
from dashboard.app import create_app
from dashboard.components import pair_ids
from dashboard.components.pair_controls import tools
from dashboard.components.pictures import FORMATS
from dashboard.laboratory import Laboratory
from dashboard.pages.page import Event
from dashboard.pages.pair.address import PairAddress
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.pages.pair.callbacks import (
    PICKED,
    dragged,
    show,
    show_findings,
    show_reasons,
    show_scatter,
)
from dashboard.pages.pair.download import download
from dashboard.selection import Address, selected
from dashboard.state import Project
from tests.dashboard.pages.test_pair import FIRST, OPEN
from tests.dashboard.project import write_project
from tests.dashboard.reading import properties, text
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign

STILL: dict[str, Any] = {"shift_ms": 0, "scale": 1, "offset": 0, "interval": None}


@pytest.fixture
def analysis(project: Project) -> PairAnalysis:
    """Return what the server works with."""
    return PairAnalysis(project)


def opened(analysis: PairAnalysis, search: str = "", **event: Any) -> dict[str, Any]:
    """Open a link, or act on the page it leads to."""
    given = {"trigger": None, "search": search, "picked": OPEN, "theme": "light"} | event
    return show(analysis, Event(**given))


def names(page: dict[str, Any]) -> list[str]:
    """Return the names of the traces."""
    return [trace.name for trace in page["figure"].data]


def test_further_releases_are_drawn_and_rated(analysis: PairAnalysis, campaign: Campaign) -> None:
    """Each has its curve and a row with its own rating and the difference to the first."""
    page = opened(analysis, "?release=A1&over=A2")
    rated = analysis.rated(campaign, selected(campaign, PairAddress.from_search("?release=A2").pair))
    assert "model A2" in names(page)
    assert f"A2 {rated.rating.overall:.3f} {rated.rating.grade}" in text(page["releases"])
    assert page["others"] == ["A2"]
    assert [one["value"] for one in page["others_options"]] == ["A2"]


def test_the_baseline_of_the_link_is_drawn_and_stays(analysis: PairAnalysis) -> None:
    """It is among the overlays, survives picks and resets, and goes when it is taken off the menu."""
    page = opened(analysis, "?release=A2&against=A1&cfc=60")
    assert "model A1" in names(page)
    assert page["others"] == ["A1"]
    (back,) = properties(page["changes"], dcc.Link)
    assert back["href"] == "/pair?release=A2&against=A1"
    picked = FIRST | {"release": "A2", "others": ["A1"], "channel": "D0HEAD0000KMACZP"}
    after = opened(analysis, "?release=A2&against=A1", trigger=ids.CHANNEL, picked=picked)
    assert "against=A1" in after["search"]
    picked = FIRST | {"release": "A2", "others": []}
    gone = opened(analysis, "?release=A2&against=A1", trigger=pair_ids.OTHERS, picked=picked)
    assert "against" not in gone["search"]


def test_a_baseline_that_cannot_be_rated_does_not_hide_the_pair(tmp_path: Path) -> None:
    """The release in question is shown; the other one has its reason in the table, and no number."""
    folder = write_project(tmp_path)
    (folder / "releases/A1/drop.csv").unlink()
    page = opened(PairAnalysis(Project(folder)), "?release=A2&against=A1")
    assert page["rated_hidden"] is False
    assert "A1 not rated: " in text(page["releases"])
    assert "model A1" not in names(page)


def test_a_release_over_itself_is_not_drawn_twice(analysis: PairAnalysis) -> None:
    """Picking the release that was drawn over the first lets go of it."""
    page = opened(
        analysis, "?over=A2", trigger=ids.RELEASE, picked=FIRST | {"release": "A2", "others": ["A2"]}
    )
    assert "over" not in page["search"]
    assert page["releases"] == ""


@pytest.mark.parametrize(
    ("search", "sentence"),
    [
        ("?over=A9", "A9"),
        ("?over=a&over=b&over=c&over=d", "4 further releases are too many for one figure"),
        ("?shift=soon", "'soon' is not a valid number"),
        ("?left=9&right=3", "the figure cannot show 9 ms to 3 ms"),
    ],
)
def test_a_link_that_cannot_be_shown_says_why(analysis: PairAnalysis, search: str, sentence: str) -> None:
    """One sentence, and a link that leads to the pair."""
    page = opened(analysis, search)
    assert page["rated_hidden"] is True
    assert sentence in text(page["problem"])
    (way_out,) = properties(page["problem"], dcc.Link)
    assert opened(analysis, way_out["href"].removeprefix("/pair"))["rated_hidden"] is False


def test_the_parts_beside_the_curves_are_as_ticked(analysis: PairAnalysis) -> None:
    """Ticks are written into the link and followed by the picture."""
    page = opened(analysis, trigger=pair_ids.PARTS, picked=FIRST | {"parts": ["links"]})
    assert page["search"].endswith("show=links")
    assert "matched by warping" in names(page)
    assert "all 2 repeats" not in names(page)
    assert "all 2 repeats" in names(opened(analysis, "?repeat=D01"))
    assert "all 2 repeats" not in names(opened(analysis))
    assert "each of 2 repeats" in names(opened(analysis))
    assert opened(analysis, trigger=pair_ids.PARTS, picked=FIRST | {"parts": []})["search"].endswith(
        "show=none"
    )


def test_the_rating_follows_a_slider(analysis: PairAnalysis, campaign: Campaign) -> None:
    """While it is dragged the words are the mean of the literal ratings of the changed model."""
    words, figure = dragged(analysis, "?release=A1", STILL | {"shift_ms": -3, "scale": 1.3}, "light")
    rated = analysis.rated(campaign, selected(campaign, PairAddress.from_search("?release=A1").pair))
    expected = []
    for pair in (one.rating.pair for one in rated.scores.values()):
        earlier = 1.3 * np.interp(pair.time + 0.003, pair.time, pair.candidate)
        expected.append(literal.rating(pair.reference.tolist(), earlier.tolist(), pair.step_s)["overall"])
    assert len(expected) == 2
    assert text(words).startswith(f"{sum(expected) / 2:.3f} ")
    assert "Model 3 ms earlier, × 1.3" in text(words)
    sent = json.dumps(figure, cls=PlotlyJSONEncoder)
    assert '"location": ["data", 0]' in sent
    assert len(sent) < 60_000


def test_the_rating_follows_the_interval(analysis: PairAnalysis) -> None:
    """The interval that is dragged is the one that is rated."""
    words, _ = dragged(analysis, "", STILL | {"interval": [4, 24.5]}, "light")
    page = opened(analysis, "?from=4&to=24.5")
    assert text(words)[:5] == text(page["verdict"])[:5]
    assert "rated 4 ms to 24.5 ms" in text(words)


def test_a_drag_to_nowhere_changes_nothing(analysis: PairAnalysis) -> None:
    """What cannot be rated is said at the end of the drag, not during it."""
    assert dragged(analysis, "", STILL | {"interval": [5, 5.5]}, "light") == (no_update, no_update)


def test_the_end_of_a_drag_is_in_the_link(analysis: PairAnalysis) -> None:
    """The sliders come back where they were, and a link leads back to the curve as it is."""
    moved = FIRST | {"shift_ms": -1.5, "offset": 20}
    page = opened(analysis, "?left=5&right=20", trigger=pair_ids.SHIFT, picked=moved)
    assert page["search"].endswith("&shift=-1.5&offset=20&left=5&right=20")
    again = opened(analysis, page["search"])
    assert (again["shift_value"], again["scale_value"], again["offset_value"]) == (-1.5, 1, 20)
    (back,) = properties(again["changed"], dcc.Link)
    assert "shift" not in back["href"]


def test_another_interval_is_in_the_link_and_lets_go_of_the_zoom(analysis: PairAnalysis) -> None:
    """The slider of the interval does what the two fields do."""
    page = opened(
        analysis, "?left=5&right=20", trigger=pair_ids.INTERVAL, picked=FIRST | {"interval": [2, 30]}
    )
    assert page["search"] == "?release=A1&case=drop&repeat=D01&channel=D0HEAD0000KMACXP&from=2&to=30"
    assert (page["start_ms"], page["end_ms"], page["interval_value"]) == ("2", "30", [2, 30])


def test_another_model_lets_go_of_the_change(analysis: PairAnalysis) -> None:
    """A shift that was tried on one curve has no meaning for another."""
    picked = FIRST | {"shift_ms": -1.5, "channel": "D0HEAD0000KMACZP"}
    assert "shift" not in opened(analysis, "?shift=-1.5", trigger=ids.CHANNEL, picked=picked)["search"]


def test_a_field_that_reports_itself_too_early_is_no_pick(analysis: PairAnalysis) -> None:
    """Before the menus are filled the URL holds."""
    page = opened(analysis, "?case=impact", trigger=pair_ids.OTHERS, picked=OPEN)
    assert page["case"] == "impact"


def test_a_zoom_sends_the_curves_alone(analysis: PairAnalysis) -> None:
    """The link holds the window; nothing is sent but curves, link and the way back."""
    zoom = {"xaxis.range[0]": 5.0, "xaxis.range[1]": 20.0}
    page = opened(analysis, "?release=A2", trigger=pair_ids.ZOOM, picked=FIRST | {"zoom": zoom})
    assert {name for name, value in page.items() if value is not no_update} == {"search", "figure", "window"}
    assert page["search"] == "?release=A2&left=5&right=20"
    assert "Zoomed to 5 to 20 ms" in text(page["window"])
    whole = opened(
        analysis, page["search"], trigger=pair_ids.ZOOM, picked={"zoom": {"xaxis.autorange": True}}
    )
    assert whole["search"] == "?release=A2"


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> PairAnalysis:
    """Return a rated project of four repeats, whose first test has an accepted and an open finding."""
    folder = write_project(tmp_path_factory.mktemp("rated"), heights=(200.0, 203.0, 207.0, 211.0))
    file = folder / "laboratory/drop/D01.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    time, _, second = lines[700].split(",")
    lines[700] = f"{time},900,{second}"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    waiver = '[[waivers]]\ntest = "D01"\nchannel = "D0HEAD0000KMACXP"\nfinding = "spike"\n'
    waiver += 'who = "head of the laboratory"\ndate = 2026-01-05\nwhy = "after the interval"\n'
    (folder / "waivers.toml").write_text(waiver, encoding="utf-8")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        run = RunInfo.now(who="analyst", campaign_sha256=campaign.sha256)
        score_into(store, campaign, ["A1"], run=run, workers=1)
        store.keep_ceilings(campaign_ceilings(campaign))
    return PairAnalysis(Project(folder))


def test_the_hardware_stands_beside_the_rating(rated: PairAnalysis) -> None:
    """Ceiling as stored, what a further test reaches, whether the model lies beyond, and the way there."""
    campaign = rated.project.campaign()
    with open_store(rated.project.folder / "ratings.sqlite") as store:
        ceilings = {(one.load_case, one.channel): one.median for one in store.ceilings(campaign.title)}
    case = CaseEvaluation(campaign, campaign.load_case("impact"))
    hardware = case_scatter(case, campaign.release("A1"), "D0CHST0003KMDSXP")
    assert hardware is not None
    shown = show_scatter(rated, "?release=A1&against=A2&case=impact")
    words = text(shown)
    assert words.startswith("Beyond hardware scatter")
    assert f"{ceilings['impact', 'D0CHST0003KMDSXP']:.3f} ceiling" in words.replace("  ", " ")
    assert f"{1 - hardware.bounds['overall']:.3f} or better" in words
    assert "tored" not in words
    (why,) = properties(shown, dcc.Link)
    assert why["href"] == "/repeats?release=A1&against=A2&case=impact&channel=D0CHST0003KMDSXP"


def test_a_release_that_is_not_stored_says_so(rated: PairAnalysis) -> None:
    """It is rated on the page, and not part of the scoreboard."""
    assert "Not in the results store" in text(show_scatter(rated, "?release=A2&case=impact"))
    assert "results store" not in text(show_scatter(rated, "?release=A2&case=impact&cfc=60"))


def test_a_stored_number_of_other_files_is_not_taken_for_the_present_one(
    rated: PairAnalysis, tmp_path: Path
) -> None:
    """Both numbers are named where a model file changed since; the page shows the present one."""
    folder = tmp_path / "changed"
    shutil.copytree(rated.project.folder, folder)
    analysis = PairAnalysis(Project(folder))
    before = text(opened(analysis, "?case=impact")["verdict"])[:5]
    (folder / "releases/A1/impact.csv").write_bytes((folder / "releases/A2/impact.csv").read_bytes())
    now = text(opened(analysis, "?case=impact")["verdict"])[:5]
    assert before != now
    expected = f"Stored {before}, computed now {now}: the inputs changed; rate again."
    assert expected in text(show_scatter(analysis, "?case=impact"))
    repeat = text(show_scatter(analysis, "?case=impact&repeat=I02"))
    assert "Stored" in repeat
    assert expected not in repeat


def test_findings_of_the_channel_are_shown_and_accepted_ones_marked(rated: PairAnalysis) -> None:
    """The waived spike is named with who answers for it; another channel does not have it."""
    laboratory = Laboratory(rated.project)
    words = text(show_findings(rated, laboratory, "?case=drop&channel=D0HEAD0000KMACXP"))
    assert "spike, D01" in words
    assert "Waived by head of the laboratory on 2026-01-05: after the interval." in words
    assert str(rated.project.folder) not in words
    other = text(show_findings(rated, laboratory, "?case=drop&channel=D0HEAD0000KMACZP"))
    assert "spike" not in other


def test_what_follows_the_curves_is_a_sentence_where_it_cannot_be_had(rated: PairAnalysis) -> None:
    """Nothing before a pair is shown; a wrong link gives the reason, not silence."""
    laboratory = Laboratory(rated.project)
    assert show_scatter(rated, None) == show_findings(rated, laboratory, None) == []
    assert "there is no load case 'X'" in text(show_scatter(rated, "?case=X"))
    assert "there is no load case 'X'" in text(show_findings(rated, laboratory, "?case=X"))


def test_reasons_are_asked_for_once_a_pair(analysis: PairAnalysis) -> None:
    """A slider or a zoom leaves them; another filter asks again."""
    first = opened(analysis, "?release=A1")["shown"]
    event = Event(trigger=None, search="?release=A1&shift=2&left=1&right=9", picked=OPEN, theme="light")
    assert show(analysis, event, shown=first)["shown"] is no_update
    event = Event(trigger=None, search="?release=A1&cfc=60", picked=OPEN, theme="light")
    assert show(analysis, event, shown=first)["shown"] == "?release=A1&cfc=60"


def test_reasons_are_those_of_the_core(analysis: PairAnalysis, campaign: Campaign) -> None:
    """Loss, changes that would win, suspects, features and hints, with links that try them."""
    address = "?release=A1&repeat=D01"
    found = analysis.explained(campaign, selected(campaign, PairAddress.from_search(address).pair))
    shown = show_reasons(analysis, f"{address}&over=A2")
    words = text(shown)
    assert f"Where {found.account.total:.3f} points are lost" in words
    assert f"{found.what_if.shift.rating.overall:.3f}" in words
    assert "None: no known data-handling error explains the loss" in words
    assert all(one.name in words for one in found.differences[:8])
    links = [link["href"] for link in properties(shown, dcc.Link)]
    assert any("shift=-" in link and "over=A2" in link for link in links)
    tried = next(link for link in links if "shift=-" in link and "scale" not in link)
    assert f"{found.what_if.shift.rating.overall:.3f}" in text(
        opened(analysis, tried.removeprefix("/pair"))["changed"]
    )


def test_reasons_of_a_mean_say_whose_they_are(analysis: PairAnalysis, campaign: Campaign) -> None:
    """The loss is that of the mean; everything else is of the repeat nearest to it, which is named."""
    selection = selected(campaign, PairAddress.from_search("?release=A1").pair)
    rated = analysis.rated(campaign, selection)
    words = text(show_reasons(analysis, "?release=A1"))
    assert f"Where {1 - rated.rating.overall:.3f} points are lost" in words
    assert f"those of repeat {rated.typical}, the nearest to the mean" in words


def test_a_turned_sign_is_a_suspect(tmp_path: Path) -> None:
    """A model with the other sign is suspected of it, with evidence, what to do and the caution."""
    folder = write_project(tmp_path)
    model = folder / "releases/A1/drop.csv"
    head, *rows = model.read_text(encoding="utf-8").splitlines()
    cells = [row.split(",") for row in rows]
    turned = [",".join([time, f"{-float(x)!r}", z]) for time, x, z in cells]
    model.write_text("\n".join([head, *turned]) + "\n", encoding="utf-8")
    analysis = PairAnalysis(Project(folder))
    campaign = analysis.project.campaign()
    (suspect, *_) = analysis.explained(campaign, selected(campaign, Address(release="A1"))).suspects
    words = text(show_reasons(analysis, "?release=A1"))
    assert suspect.kind == "sign turned"
    assert "Sign turned" in words
    assert suspect.evidence in words
    assert suspect.fix in words
    assert "they are not findings" in words
    assert "No hints: a data-handling error is suspected; resolve it first." in words


def test_reasons_of_what_is_not_rated_are_a_sentence(analysis: PairAnalysis) -> None:
    """Nothing is shown before a pair is, and an error is one sentence."""
    assert show_reasons(analysis, None) == []
    assert "'soon' is not a valid number" in text(show_reasons(analysis, "?from=soon"))


def test_the_data_read_back(analysis: PairAnalysis, tmp_path: Path) -> None:
    """The file holds all digits of what was rated, with source and steps, and no path of the server."""
    file, words = download(analysis, "?release=A1&over=A2&from=2")
    path = tmp_path / file["filename"]
    path.write_text(file["content"], encoding="utf-8")
    recording = read(path)
    assert recording.channel_names == ("test D01", "test D02", "model A1", "model A2")
    campaign = analysis.project.campaign()
    address = PairAddress.from_search("?release=A1&from=2")
    score = analysis.rated(campaign, selected(campaign, address.pair)).scores["D01"]
    np.testing.assert_array_equal(recording.channel("test D01").samples, score.reference.samples)
    np.testing.assert_array_equal(recording.channel("model A1").samples, score.candidate.samples)
    assert recording.channel("test D01").unit == score.reference.unit
    assert recording.channel("test D01").start_s == pytest.approx(0.002)
    assert score.reference.source.sha256 in file["content"]
    assert "laboratory/drop/D01.csv" in file["content"]
    assert str(analysis.project.folder) not in file["content"]
    assert words == ""


def test_data_that_cannot_be_had_are_a_sentence(analysis: PairAnalysis) -> None:
    """No file, and the reason."""
    file, words = download(analysis, "?release=A9")
    assert file is no_update
    assert "A9" in words


def test_data_that_are_taken_away_are_named_in_the_trail(
    analysis: PairAnalysis, trail: list[tuple[str, str]]
) -> None:
    """Load case, channel, releases and tests; nothing is said of data that could not be had."""
    download(analysis, "?release=A9")
    assert trail == []
    download(analysis, "?release=A1&over=A2")
    download(analysis, "?release=A2&repeat=D02")
    where = "load case drop, channel D0HEAD0000KMACXP"
    assert trail == [
        ("downloaded curves", f"{where}, release A1, A2, test D01, D02"),
        ("downloaded curves", f"{where}, release A2, test D02"),
    ]


def test_taking_data_away_needs_an_analyst(folder: Path) -> None:
    """Every callback of the page is for everybody but the one that hands out data."""
    needs = needs_of(create_app(folder)).callbacks
    key = next(key for key in needs if pair_ids.DOWNLOAD in key)
    assert needs[key].role is Role.ANALYST
    shown = [need for other, need in needs.items() if "pair-" in other and other != key]
    assert shown
    assert {need.role for need in shown} == {Role.VIEWER}


@pytest.mark.parametrize("may", [True, False])
def test_the_button_for_data_is_hidden_where_it_would_be_refused(*, may: bool) -> None:
    """A viewer is not offered what the server refuses; the picture is for everybody."""
    hidden = {one["id"]: one.get("hidden", False) for one in properties(tools(may_download=may), html.Button)}
    pictures = {ids.picture_part("pair", ending): False for ending in FORMATS}
    assert hidden == {**pictures, pair_ids.DATA: not may}


def test_a_changed_file_is_rated_again(tmp_path: Path) -> None:
    """What is kept is let go when a file changes."""
    folder = write_project(tmp_path)
    analysis = PairAnalysis(Project(folder))
    before = text(opened(analysis, "?release=A1")["verdict"])
    model = folder / "releases/A1/drop.csv"
    model.write_bytes((folder / "releases/A2/drop.csv").read_bytes())
    assert text(opened(analysis, "?release=A1")["verdict"]) != before


def test_every_slider_has_its_four_outputs(analysis: PairAnalysis) -> None:
    """Each reaches beyond its value on both sides."""
    page = opened(analysis, "?shift=2&scale=1.2&offset=-10")
    for name in ("shift", "scale", "offset"):
        assert page[f"{name}_low"] <= page[f"{name}_value"] <= page[f"{name}_high"]
        assert page[f"{name}_step"] > 0
    assert (
        page["interval_low"] <= page["interval_value"][0] < page["interval_value"][1] <= page["interval_high"]
    )
    assert set(PICKED) >= {"shift_ms", "scale", "offset", "interval"}
