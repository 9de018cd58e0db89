"""Figures on pages."""

from __future__ import annotations

from dash import dcc

from correlate.plots import GRAPH_CONFIG
from dashboard.app import PAGES
from tests.dashboard.reading import properties


def test_every_figure_of_the_application_has_the_settings() -> None:
    """Each figure has the settings that turn the upload button off, and there is at least one."""
    graphs = properties([page.layout("") for page in PAGES], dcc.Graph)
    assert graphs
    for graph in graphs:
        assert graph["config"] == GRAPH_CONFIG
        assert graph["config"]["showSendToCloud"] is False
