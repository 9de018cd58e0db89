"""The repeats page: events in, everything that is shown out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, html

from correlate import waive
from correlate.plots import DARK
from dashboard import ids
from dashboard.components.frame import frame
from dashboard.laboratory import Laboratory
from dashboard.pages.page import Event
from dashboard.pages.repeats.callbacks import PICKED, layout, outputs, show, show_cross_plot
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text

if TYPE_CHECKING:
    from pathlib import Path

KNEE = "adult male, 50th percentile: knee impact, 2.1 m/s (6.9 ft/s), 5 kg probe"


@pytest.fixture(scope="module")
def laboratory(tmp_path_factory: pytest.TempPathFactory) -> Laboratory:
    """Return the small project; one repeat has a spike in its second channel."""
    folder = write_project(tmp_path_factory.mktemp("spiked"))
    file = folder / "laboratory/drop/D02.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    time, first, _ = lines[700].split(",")
    lines[700] = f"{time},{first},900"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return Laboratory(Project(folder))


def opened(laboratory: Laboratory, search: str = "", theme: str = "light") -> dict[str, Any]:
    """Open a link."""
    return show(laboratory, Event(trigger=None, search=search, picked=dict.fromkeys(PICKED), theme=theme))


def picked(laboratory: Laboratory, trigger: str, search: str = "", **changes: Any) -> dict[str, Any]:
    """Pick something on the page of the first channel."""
    values: dict[str, Any] = {"case": "drop", "channel": "D0HEAD0000KMACXP", "width": "1", "across": ""}
    values |= {"windows": "", "shown": ["D01", "D02"]}
    return show(laboratory, Event(trigger=trigger, search=search, picked=values | changes, theme="light"))


def cross_plot(laboratory: Laboratory, search: str = "", theme: str = "light") -> tuple[Any, str]:
    """Return the figure of the cross-plot, None where there is none, and the words in its place."""
    shown = show_cross_plot(laboratory, search, theme)
    figures = [one["figure"] for one in properties(shown, dcc.Graph)]
    return next(iter(figures), None), text(shown)


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callbacks has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)
    assert {*PICKED.values(), ids.THEME, ids.REPEATS_CROSS} <= set(found)


def test_an_opened_page_shows_the_first_channel(laboratory: Laboratory) -> None:
    """Heading, corridor, numbers of both repeats and the result of the check are there."""
    page = opened(laboratory)
    assert page["shown_hidden"] is False
    assert text(page["heading"]).startswith("Head acceleration X Drop onto a plate 2 repeats, CFC 1000")
    assert "mean ± 1 SD" in [trace.name for trace in page["figure"].data]
    said = text(page["numbers"])
    # Pulses of 200 and 210: mean 205, standard deviation 7.07, which is 3.45 % of the mean.
    assert "−" not in said.split("Coefficient")[0]
    assert "Coefficient of variation of the peak 3.45 %" in said
    assert "too few repeats (2; 3 are needed)" in said
    assert "1 · D01" in said
    assert "2 · D02" in said


def test_a_finding_stands_on_its_curve(laboratory: Laboratory) -> None:
    """The spike is named with test, time and remedy, and drawn with its place marked."""
    page = opened(laboratory, "?channel=D0HEAD0000KMACZP")
    said = text(page["findings"])
    assert "Error: spike, D02, 24.95" in said
    assert "Remedy:" in said
    figures = [graph["figure"] for graph in properties(page["findings"], dcc.Graph)]
    spans = [shape for figure in figures for shape in figure.layout.shapes]
    assert any(shape.x0 <= 24.95 <= shape.x1 for shape in spans)


def test_findings_name_files_from_the_project_on(laboratory: Laboratory) -> None:
    """The two closed-form repeats are alike: that finding names the other file without the way to it."""
    said = text(opened(laboratory)["findings"])
    assert "Error: copy, D01" in said
    assert "of laboratory/drop/D02.csv" in said
    assert str(laboratory.project.folder) not in said


def test_findings_elsewhere_are_links(laboratory: Laboratory) -> None:
    """On the page of the sound channel the spike of the other is named and can be followed."""
    page = opened(laboratory)
    links = [link["href"] for link in properties(page["findings"], dcc.Link)]
    assert "/repeats?case=drop&channel=D0HEAD0000KMACZP" in links
    assert "spike" in text(page["findings"])


def test_the_width_of_the_corridor_can_be_picked(laboratory: Laboratory) -> None:
    """Two standard deviations are drawn and named in the link; the usual one is not."""
    page = picked(laboratory, ids.REPEATS_WIDTH, width="2")
    assert "mean ± 2 SD" in [trace.name for trace in page["figure"].data]
    assert page["search"] == "?case=drop&channel=D0HEAD0000KMACXP&width=2"
    assert picked(laboratory, ids.REPEATS_WIDTH)["search"] == "?case=drop&channel=D0HEAD0000KMACXP"


def test_other_kinds_of_corridor_can_be_picked(laboratory: Laboratory) -> None:
    """Extremes and the band of further tests are drawn; one that needs more repeats says so."""
    for width, kind in (("range", "least to largest"), ("instant", "95% of further tests, at each instant")):
        page = picked(laboratory, ids.REPEATS_WIDTH, width=width)
        assert kind in [trace.name for trace in page["figure"].data]
        assert page["search"].endswith(f"width={width}")
    page = picked(laboratory, ids.REPEATS_WIDTH, width="whole")
    assert "needs 3 repeats or more" in text(page["problem"])
    assert page["width"] == "whole"
    assert page["controls_hidden"] is False


def test_the_releases_of_a_link_are_kept(laboratory: Laboratory) -> None:
    """A pick, and the links to other channels, keep what the page itself has no menu for."""
    search = "?release=A2&against=A1&case=drop&channel=D0HEAD0000KMACXP"
    values = {
        "case": "drop",
        "channel": "D0HEAD0000KMACZP",
        "width": "1",
        "across": "",
        "windows": "",
        "shown": [],
    }
    event = Event(trigger=ids.REPEATS_CHANNEL, search=search, picked=values, theme="light")
    page = show(laboratory, event)
    assert page["search"] == "?case=drop&channel=D0HEAD0000KMACZP&release=A2&against=A1"
    links = [link["href"] for link in properties(opened(laboratory, search)["findings"], dcc.Link)]
    assert "/repeats?case=drop&channel=D0HEAD0000KMACZP&release=A2&against=A1" in links


def test_a_resultant_leads_to_its_first_axis_and_says_so(tmp_path: Path) -> None:
    """Other pages select it; here its recordings are those of its axes, and the menu names the axis."""
    folder = write_project(tmp_path)
    plan = '[[load_case.channel]]\ntest = "D0HEAD0000KMACYP"\nmodel = "head y"\nregion = "head"\n'
    plan += '[[load_case.resultant]]\ntitle = "head"\nregion = "head"\n'
    plan += 'axes = ["D0HEAD0000KMACZP", "D0HEAD0000KMACXP", "D0HEAD0000KMACYP"]\n\n'
    impact = '[[load_case]]\nname = "impact"'
    file = folder / "campaign.toml"
    text_of_file = file.read_text(encoding="utf-8")
    file.write_text(text_of_file.replace(impact, plan + impact), encoding="utf-8")
    page = opened(Laboratory(Project(folder)), "?case=drop&channel=head")
    assert text(page["heading"]).startswith("Head acceleration Z")
    assert "the first axis is shown" in text(page["heading"])
    assert page["channel"] == "D0HEAD0000KMACZP"
    _, words = show_cross_plot(Laboratory(Project(folder)), "?case=drop&channel=head", "light")
    assert "Assumptions" in text(words)


def test_another_load_case_lets_go_of_channels_and_windows(laboratory: Laboratory) -> None:
    """The first channel of the new load case is shown, and the link names the load case alone."""
    page = picked(laboratory, ids.REPEATS_CASE, case="impact", across="D0HEAD0000KMACZP", windows=KNEE)
    assert page["search"] == "?case=impact"
    assert page["channel"] == "D0CHST0003KMDSXP"
    assert "held out of tuning" in text(page["heading"])


def test_windows_compare_every_repeat(laboratory: Laboratory) -> None:
    """Every quantity has its window and a verdict for both repeats; what cannot be measured says why."""
    said = text(picked(laboratory, ids.REPEATS_WINDOW, windows=KNEE)["qualified"])
    assert "0 of 2 repeats are inside every window" in said
    assert "D01 D02" in said
    assert said.count("not measurable") >= 2
    assert "49 CFR 572.35" in said


def test_without_windows_the_page_says_what_to_do(laboratory: Laboratory) -> None:
    """Nothing is guessed: the windows are picked by a person."""
    page = opened(laboratory)
    assert "Select the windows" in text(page["qualified"])
    assert page["windows"] == ""


def test_the_cross_plot_is_over_the_first_other_channel(laboratory: Laboratory) -> None:
    """Both axes are named; the corridor of the repeats is drawn."""
    figure, words = cross_plot(laboratory)
    assert figure.layout.xaxis.title.text == "Head acceleration Z [m/s²]"
    assert figure.layout.yaxis.title.text == "Head acceleration X [m/s²]"
    assert "± 1 SD along the arc" in [trace.name for trace in figure.data]
    assert "warping along the arc" in words


@pytest.mark.parametrize(
    ("search", "sentence"), [("?across=none", "No second channel is selected"), ("?case=fall", "")]
)
def test_no_cross_plot_is_no_empty_picture(laboratory: Laboratory, search: str, sentence: str) -> None:
    """Without a second channel, or without a page, there is no figure at all but what to do."""
    figure, words = cross_plot(laboratory, search)
    assert figure is None
    assert sentence in words


def test_a_load_case_of_one_channel_says_that_it_has_no_cross_plot(tmp_path: Path) -> None:
    """There is no other channel to select, so nobody is asked to select one."""
    folder = write_project(tmp_path)
    path = folder / "campaign.toml"
    before, _, rest = path.read_text(encoding="utf-8").partition(
        '[[load_case.channel]]\ntest = "D0HEAD0000KMACZP"'
    )
    path.write_text(before + rest[rest.index("[[load_case]]") :], encoding="utf-8")
    figure, words = cross_plot(Laboratory(Project(folder)))
    assert figure is None
    assert "This load case has one channel." in words


def test_repeats_are_drawn_by_name_and_the_faulty_one_is_marked(laboratory: Laboratory) -> None:
    """The spike is in the list, at the curve, and in the row of its test, in the words of the finding."""
    page = opened(laboratory, "?channel=D0HEAD0000KMACZP")
    drawn = {trace.name.split(",")[0]: trace for trace in page["figure"].data}
    assert "error: " in drawn["D02"].name
    assert "spike" in drawn["D02"].name
    assert drawn["D02"].line.dash
    listed = [one["children"][1].title for one in properties(page["legend"], html.Li)]
    assert listed == ["Highlight this repeat"] * 2
    assert "D02 (error: " in text(page["legend"])
    assert any("D02: error" in mark.text for mark in page["figure"].layout.annotations)
    rows = {row["children"][0].children[1].href: row for row in properties(page["numbers"], html.Tr)[1:]}
    faulty = rows["/repeats?repeat=D02&channel=D0HEAD0000KMACZP"]
    assert "is-faulty" in faulty["className"]
    assert "Error: spike: " in text(faulty["children"])


def test_a_waived_error_marks_nothing_and_names_who_waived_it(tmp_path: Path) -> None:
    """Once somebody answers for every error of a test, its curve is like the others; the reason is shown."""
    laboratory = Laboratory(Project(write_project(tmp_path)))
    campaign = laboratory.project.campaign()
    before = opened(laboratory)
    assert before["figure"].layout.annotations
    found = laboratory.checked(campaign, campaign.load_case("drop")).outcome.findings
    waive(tmp_path, found, who="the lab", why="closed forms")
    after = opened(laboratory)
    assert not after["figure"].layout.annotations
    assert "waived by the lab" in text(after["numbers"])
    assert "Waived in this load case" in text(after["findings"])


def test_repeats_that_are_shown_are_in_the_address(laboratory: Laboratory) -> None:
    """One of two is drawn and named in the link, the other is said not to be; numbers stay of both."""
    page = picked(laboratory, ids.REPEATS_LINES, "?release=A2&against=A1&mail=9", shown=["D02"])
    assert page["search"] == "?case=drop&channel=D0HEAD0000KMACXP&shown=D02&release=A2&against=A1&mail=9"
    names = [trace.name.split(",")[0] for trace in page["figure"].data]
    assert "D02" in names
    assert "D01" not in names
    assert text(page["legend"]).split(" ")[0] == "D02"
    assert "not drawn" in text(page["numbers"])
    assert "Coefficient of variation of the peak 3.45 %" in text(page["numbers"])
    linked = opened(laboratory, page["search"])
    assert linked["shown"] == ["D02"]
    both = picked(laboratory, ids.REPEATS_LINES, page["search"])
    assert "shown" not in both["search"]
    none = picked(laboratory, ids.REPEATS_LINES, shown=[])
    assert none["shown"] == ["D01", "D02"]


def test_a_row_draws_its_curve_in_front(laboratory: Laboratory) -> None:
    """Its link names the repeat and keeps the rest; the link of the highlighted row takes it away again."""
    page = opened(laboratory, "?release=A2&repeat=D01")
    first, second = properties(page["numbers"], html.Tr)[1:]
    assert "is-picked" in first["className"]
    assert first["children"][0].children[1].href == "/repeats?release=A2"
    assert second["children"][0].children[1].href == "/repeats?repeat=D02&release=A2"
    assert min(trace.opacity for trace in page["figure"].data if trace.name.startswith("D0")) < 1
    assert "repeat=D01" in picked(laboratory, ids.REPEATS_WIDTH, "?repeat=D01", width="2")["search"]


def test_a_test_without_the_channel_is_named(tmp_path: Path) -> None:
    """The others are shown; the table says which test lacks the channel."""
    folder = write_project(tmp_path)
    file = folder / "laboratory/drop/D02.csv"
    lines = [line.rpartition(",")[0] for line in file.read_text(encoding="utf-8").splitlines()]
    (folder / "laboratory/drop/D03.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    page = opened(Laboratory(Project(folder)), "?channel=D0HEAD0000KMACZP")
    assert "Without this channel: D03." in text(page["numbers"])
    assert page["shown_hidden"] is False
    assert "3 repeats" in text(page["heading"])


@pytest.mark.parametrize(
    ("search", "sentence"),
    [
        ("?case=fall", "there is no load case 'fall'"),
        ("?channel=X", "has no channel 'X'"),
        ("?across=X", "has no channel 'X'"),
        ("?width=9", "'9' is not a valid corridor width"),
        ("?windows=mine", "there are no windows 'mine'"),
        ("?repeat=D09", "there is no repeat 'D09'"),
        ("?shown=D01~D09", "there is no repeat 'D09'"),
    ],
)
def test_a_link_to_nothing_says_so(laboratory: Laboratory, search: str, sentence: str) -> None:
    """A name that is not there gives its sentence and a way to the first channel."""
    page = opened(laboratory, search)
    assert page["shown_hidden"] is True
    assert sentence in text(page["problem"])
    (way_out,) = properties(page["problem"], dcc.Link)
    assert way_out["href"] == "/repeats"


def test_a_missing_test_is_a_message(tmp_path: Path) -> None:
    """Tests that are not there are named, and the page says that files must change."""
    folder = write_project(tmp_path)
    for file in (folder / "laboratory/drop").iterdir():
        file.unlink()
    page = opened(Laboratory(Project(folder)))
    assert "laboratory/drop/*.csv" in text(page["problem"])
    assert "reload this page" in text(page["problem"])


def test_a_single_repeat_has_no_corridor(tmp_path: Path) -> None:
    """One repeat is shown without a corridor and without a cross-plot, and both say why."""
    folder = write_project(tmp_path)
    (folder / "laboratory/drop/D02.csv").unlink()
    laboratory = Laboratory(Project(folder))
    page = opened(laboratory)
    assert page["shown_hidden"] is False
    assert not any("SD" in (trace.name or "") for trace in page["figure"].data)
    assert "1 repeat," in text(page["heading"])
    figure, words = cross_plot(laboratory)
    assert figure is None
    assert "eeds two repeats or more" in words


def test_a_changed_file_is_read_and_checked_again(tmp_path: Path) -> None:
    """A repaired file changes numbers and findings at the next request."""
    laboratory = Laboratory(Project(write_project(tmp_path)))
    before = text(opened(laboratory)["numbers"])
    file = tmp_path / "laboratory/drop/D02.csv"
    text_of = (tmp_path / "laboratory/drop/D01.csv").read_text(encoding="utf-8")
    file.write_text(text_of, encoding="utf-8")
    assert text(opened(laboratory)["numbers"]) != before


def test_a_folder_without_a_campaign_is_a_message(tmp_path: Path) -> None:
    """The menus are hidden and the page says what to put where."""
    page = opened(Laboratory(Project(tmp_path)))
    assert page["controls_hidden"] is True
    assert text(page["problem"]).startswith("There is no campaign in this folder yet")


def test_figures_follow_the_theme(laboratory: Laboratory) -> None:
    """Both figures of a dark page are dark."""
    assert opened(laboratory, theme="dark")["figure"].layout.paper_bgcolor == DARK.panel
    assert cross_plot(laboratory, theme="dark")[0].layout.paper_bgcolor == DARK.panel


def test_every_value_has_its_output(laboratory: Laboratory, tmp_path: Path) -> None:
    """Whatever happens, the page sets every output once, and none besides."""
    for page in (opened(laboratory), opened(laboratory, "?case=x"), opened(Laboratory(Project(tmp_path)))):
        assert page.keys() == outputs().keys()
