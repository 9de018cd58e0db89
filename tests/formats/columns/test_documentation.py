"""The examples of text in columns in docs/formats.md do what the page says."""

from __future__ import annotations

import re
from pathlib import Path

from correlate.campaign import load_campaign
from correlate.formats.columns import read_columns
from tests.campaign.conftest import CAMPAIGN

PAGE = (Path(__file__).parents[3] / "docs" / "formats.md").read_text(encoding="utf-8")


def test_layouts_and_files_of_the_page_belong_together(tmp_path: Path) -> None:
    """Both layouts stand in a campaign file and read the two files, with the numbers printed there."""
    [layouts] = re.findall(r"```toml\n(\[\[layout\]\]\n.*?)```", PAGE, flags=re.DOTALL)
    probe, nodes = re.findall(r"```output\n(.*?)```", PAGE, flags=re.DOTALL)
    (tmp_path / "campaign.toml").write_text(CAMPAIGN + layouts, encoding="utf-8")
    known = load_campaign(tmp_path).layouts
    found: dict[str, tuple[str, float, list[float]]] = {}
    for name, text in (("probe", probe), ("nodes", nodes)):
        (tmp_path / "run.out").write_text(text)
        recording = read_columns(tmp_path / "run.out", known[name])
        found |= {one.channel: (one.unit, one.step_s, one.samples.tolist()) for one in recording.signals}
    assert found == {
        "probe force": ("kN", 1e-4, [0.0, -1.5, 25.0]),
        "node 12 x": ("mm", 5e-5, [1.0, 1.5]),
        "node 12 y": ("mm", 5e-5, [-2.0, -2.5]),
        "node 7 x": ("mm", 5e-5, [3.0, 3.5]),
        "node 7 y": ("mm", 5e-5, [4.0, 4.5]),
    }
    assert all(f"`{channel}`" in PAGE for channel in found)
