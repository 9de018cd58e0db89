"""The page of the demo: its tables, sketches and plots are today's, and its statements hold."""

from __future__ import annotations

import re
import shutil
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import numpy as np
import pytest

from demo_pairs.laboratory import LOAD_CASES, force_laws, repeats
from demo_pairs.solver import laws
from docs.pictures import demo
from docs.pictures.demo_curves import PLOT_HEIGHT, PLOT_WIDTH, picture, read_project, ticks
from docs.pictures.demo_sensors import sensor_rows
from docs.pictures.demo_sketches import SKETCHES
from tests.docs.demo_project import shared_demo

if TYPE_CHECKING:
    from docs.pictures.demo_curves import CaseCurves

TEXT = demo.PAGE.read_text(encoding="utf-8")
CASES = ("neck-extension", "thorax-impact")
"""What is rated here; the page is computed from all eight load cases."""
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, CaseCurves]:
    """Rate a part of the demo once."""
    demo_project = shared_demo(tmp_path_factory)
    project = tmp_path_factory.mktemp("page")
    shutil.copyfile(demo_project / "campaign.toml", project / "campaign.toml")
    (project / "releases").symlink_to(demo_project / "releases")
    (project / "laboratory").mkdir()
    for case in CASES:
        (project / "laboratory" / case).symlink_to(demo_project / "laboratory" / case)
    return read_project(project)


def rows(mark: str) -> list[list[str]]:
    """Return the cells of a computed table without its head."""
    lines = demo.between(TEXT, mark).splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def ratings(load_case: str) -> list[float]:
    """Return the ratings of the three releases that the page gives for a load case."""
    (found,) = [row for row in rows("load cases") if row[0].split(" ")[0] == f"`{load_case}`"]
    return [float(cell) for cell in found[1:]]


def test_cards_and_faults_are_those_of_the_code() -> None:
    """The tables of cards and faults need no run and are compared whole."""
    assert demo.between(TEXT, "cards") == demo.card_table(), "run python -m docs.pictures.demo PROJECT"
    assert demo.between(TEXT, "faults") == demo.fault_table(), "run python -m docs.pictures.demo PROJECT"


def test_numbers_are_those_of_a_run(cases: dict[str, CaseCurves]) -> None:
    """Ratings on the page are within 0.002 of those of a run, for every channel of two load cases."""
    listed = [row for row in rows("channels") if row[0].strip("`") in CASES]
    channels = [channel for case in cases.values() for channel in case.channels.values()]
    by_name = {
        (f"`{name}`", channel.title): channel
        for name, case in cases.items()
        for channel in case.channels.values()
    }
    assert len(listed) == len(channels) == 8
    for row in listed:
        channel = by_name[row[0], row[1]]
        said = [float(cell) for cell in row[2:5]]
        assert said == pytest.approx([channel.rating(name) for name in demo.RELEASES], abs=0.002)
    for name, case in cases.items():
        assert ratings(name) == pytest.approx([case.rating(one) for one in demo.RELEASES], abs=0.002)


def test_times_of_the_largest_rotation_are_those_of_a_run(cases: dict[str, CaseCurves]) -> None:
    """The times on the page are within 0.2 ms, and A3 is later than every repeat in extension."""
    tests, releases = demo.lateness(cases["neck-extension"])
    assert releases["A3"] > max(tests)
    row = rows("lateness")[1]
    said = [float(number) for number in re.findall(r"[\d.]+", " ".join(row[1:]))]
    assert said == pytest.approx([min(tests), max(tests), *releases.values()], abs=0.2)


def test_sensors_are_those_of_the_laboratory() -> None:
    """Peaks on the page are within 1 % and shares within a tenth of what is measured now."""
    listed = rows("sensors")
    measured = sensor_rows()
    assert [row[:3] for row in listed] == [
        [f"`{one.load_case}`", one.title, str(one.frequency_class)] for one in measured
    ]
    for row, one in zip(listed, measured, strict=True):
        said = [float(re.findall(r"[\d.]+", cell)[0]) for cell in row[3:6]]
        assert said == pytest.approx([one.peak, 100 * one.noise, 100 * one.filtered_noise], rel=0.1)
        assert said[0] == pytest.approx(one.peak, rel=0.01)
        if one.modes:
            assert float(row[6].removesuffix(" %")) == pytest.approx(100 * one.ringing, rel=0.1)


def test_statements_about_releases_hold_in_the_table() -> None:
    """A2 loses in the thorax alone, by less than 0.08; A3 beats both in every load case."""
    assert [row[0].split(" ")[0].strip("`") for row in rows("load cases")] == list(LOAD_CASES)
    for load_case in LOAD_CASES:
        first, second, third = ratings(load_case)
        if load_case.startswith("thorax"):
            assert 0.01 < first - second < 0.08
        else:
            assert second > first
        assert third > max(first, second)


def test_plots_are_those_of_a_run(cases: dict[str, CaseCurves]) -> None:
    """Two plots are the same bytes as those committed."""
    for name, case in cases.items():
        committed = (demo.PICTURES / f"{name}.svg").read_text(encoding="utf-8")
        assert picture(case) == committed, "run python -m docs.pictures.demo PROJECT"


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_every_plot_shows_every_curve_inside_its_panel(load_case: str) -> None:
    """Each panel has a curve for every repeat and release, none leaves it, and the file is small."""
    text = (demo.PICTURES / f"{load_case}.svg").read_text(encoding="utf-8")
    assert len(text.encode()) < 60_000
    panels = [group for group in ET.fromstring(text).iter(f"{SVG}g") if group.get("fill") == "none"]  # noqa: S314
    assert len(panels) == len([row for row in rows("channels") if row[0] == f"`{load_case}`"])
    for panel in panels:
        paths = panel.findall(f"{SVG}path")
        assert len(paths) == repeats(load_case) + len(demo.RELEASES)
        for path in paths:
            numbers = np.array([int(word) for word in re.findall(r"-?\d+", path.attrib["d"])]).reshape(-1, 2)
            points = np.cumsum(numbers, axis=0)
            assert points.min() >= 0
            assert points[:, 0].max() <= 10 * PLOT_WIDTH
            assert points[:, 1].max() <= 10 * PLOT_HEIGHT


@pytest.mark.parametrize("name", list(SKETCHES))
def test_sketches_are_those_that_are_drawn(name: str) -> None:
    """Each sketch is well-formed, has a background of its own and is that of today's code."""
    text = (demo.PICTURES / f"set-up-{name}.svg").read_text(encoding="utf-8")
    assert SKETCHES[name]() == text, "run python -m docs.pictures.demo PROJECT"
    root = ET.fromstring(text)  # noqa: S314 - our own picture
    size = [float(number) for number in root.attrib["viewBox"].split()]
    background = root.findall(f"{SVG}rect")[0]
    assert float(background.attrib["width"]) >= size[2] - 1


def test_every_picture_is_on_the_page() -> None:
    """All pictures are shown, and all that are shown are there."""
    shown = set(re.findall(r"\(pictures/demo-curves/([\w-]+)\.svg\)", TEXT))
    assert shown == {path.stem for path in demo.PICTURES.glob("*.svg")}
    assert shown == {*LOAD_CASES, *(f"set-up-{name}" for name in SKETCHES)}


def test_every_force_law_is_on_the_page() -> None:
    """Each function of both modules of laws has its row."""
    for module in (force_laws, laws):
        own = [
            name for name, item in vars(module).items() if getattr(item, "__module__", "") == module.__name__
        ]
        assert len(own) == 8
        for name in own:
            assert f"| `{name}` | " in TEXT


def test_ticks_are_round_and_span_the_data() -> None:
    """Steps are 1, 2 or 5 times a power of ten; the ends lie outside the data."""
    assert ticks(0.0, 60.0, 6) == [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    assert ticks(-193.0, 52.0, 4) == [-200.0, -100.0, 0.0, 100.0]


def test_a_page_without_its_marks_is_refused() -> None:
    """A lost mark is noticed instead of swallowing the rest of the page."""
    with pytest.raises(ValueError, match="no place for the table of cards"):
        demo.replaced("# The demo\n", "cards", "| |")
