"""The wrapper of figures: no button that uploads data, and no way around it."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from correlate.plots import GRAPH_CONFIG, LIGHT, drawing_library, figure_html
from correlate.plots.graph import new_figure, one_panel, time_line

ROOT = Path(__file__).parents[2]
ONLY_HERE = {
    "Figure": "correlate/plots/graph.py",
    "ProjectFigure": "correlate/plots/graph.py",
    "FigureWidget": "correlate/plots/graph.py",
    "make_subplots": "correlate/plots/graph.py",
    "to_html": "correlate/plots/graph.py",
    "write_html": "correlate/plots/graph.py",
    "Graph": "dashboard/components/controls.py",
}
SOURCES = {
    path.relative_to(ROOT).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
    for folder in ("correlate", "dashboard")
    for path in sorted((ROOT / folder).rglob("*.py"))
}


def called(tree: ast.AST) -> set[str]:
    """Return the last name of everything that is called, but elements of a page, which draw nothing."""
    functions = (node.func for node in ast.walk(tree) if isinstance(node, ast.Call))
    return {
        function.attr if isinstance(function, ast.Attribute) else function.id
        for function in functions
        if isinstance(function, (ast.Attribute, ast.Name)) and not ast.unparse(function).startswith("html.")
    }


def draws(tree: ast.AST) -> bool:
    """Say whether a module knows the drawing library or the one for web pages."""
    named = [
        *(name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names),
        *(node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)),
    ]
    return any(name.split(".")[0] in {"plotly", "dash"} for name in named)


def test_the_upload_button_is_off() -> None:
    """The settings turn off the button that sends the data of a figure to a public site."""
    assert GRAPH_CONFIG["showSendToCloud"] is False
    assert GRAPH_CONFIG["displaylogo"] is False


def test_a_figure_in_a_page_carries_the_settings() -> None:
    """What a report writes hands the drawing library exactly these settings."""
    page = figure_html(new_figure([], {}, colours=LIGHT))
    found = re.search(r"Plotly\.newPlot\(.*?(\{[^{}]*showSendToCloud[^{}]*\})", page, re.DOTALL)
    assert found
    assert GRAPH_CONFIG.items() <= json.loads(found.group(1)).items()


@pytest.mark.parametrize("name", ONLY_HERE)
def test_figures_are_made_and_shown_in_one_place(name: str) -> None:
    """No other module makes a figure, shows one on a page or writes one into a page."""
    callers = {path for path, tree in SOURCES.items() if draws(tree) and name in called(tree)}
    assert callers <= {ONLY_HERE[name]}


def test_the_search_for_figures_finds_them() -> None:
    """The two places themselves are found, so that the test above looks at what it should."""
    assert "ProjectFigure" in called(SOURCES["correlate/plots/graph.py"])
    assert "Graph" in called(SOURCES["dashboard/components/controls.py"])
    assert draws(SOURCES["correlate/plots/pair.py"])


def test_a_figure_in_a_notebook_carries_the_settings_and_a_static_drawing() -> None:
    """A notebook gets no upload button, no page that loads a script, and a drawing for who cannot run one."""
    values = np.array([0.0, 1.0, 2.0])
    line = time_line(1e-3 * values, values, name="<b>head</b>")
    layout = one_panel(LIGHT, height=200, x_title="time [ms]", y_title="<i>force</i> [kN]")
    figure = new_figure([line], layout, colours=LIGHT)
    shown = figure._repr_mimebundle_()
    # A notebook asks for these first, and the library's own load a script from elsewhere.
    assert (figure._ipython_display_, figure._repr_html_) == (None, None)
    assert set(shown) == {"application/vnd.plotly.v1+json", "image/svg+xml", "text/plain"}
    assert shown["application/vnd.plotly.v1+json"]["config"] == GRAPH_CONFIG
    ET.fromstring(shown["image/svg+xml"])  # noqa: S314 - made here
    assert "<i>" not in shown["image/svg+xml"]
    assert shown["text/plain"] == "Figure(<1 trace>)"


def test_showing_a_figure_hands_over_the_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    """``show()`` passes the settings to whatever renderer the library has chosen."""
    seen: dict[str, object] = {}
    monkeypatch.setattr("plotly.io.show", lambda _, **settings: seen.update(settings))
    new_figure([], {}, colours=LIGHT).show()
    assert seen["config"] == GRAPH_CONFIG


def test_the_drawing_library_is_whole() -> None:
    """The script for pages without a network defines the library."""
    assert "Plotly" in drawing_library()
    assert len(drawing_library()) > 1_000_000


def test_a_new_figure_has_the_colours_and_typeface_of_the_theme() -> None:
    """Background and text come from the palette, the typeface is the shipped one."""
    layout = new_figure([], {}, colours=LIGHT).layout
    assert layout.paper_bgcolor == LIGHT.panel
    assert layout.font.color == LIGHT.ink
    assert layout.font.family.startswith("Archivo")
