"""The page of a report, opened from disk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate.report.html import pair_html
from tests.plots.scores import late_model

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_a_report_draws_its_figure_and_asks_nobody(page: Page, tmp_path: Path) -> None:
    """The file alone shows rating and curves under its own content policy, without a single request."""
    file = tmp_path / "pair.html"
    file.write_text(pair_html(late_model(), title="Head drop"), encoding="utf-8")
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(file.as_uri())
    expect(page.locator(".js-line").first).to_be_visible()
    expect(page.get_by_text("model 1.2 ms late")).to_be_visible()
    assert [address for address in asked if not address.startswith("data:")] == [file.as_uri()]
    assert complaints == []
