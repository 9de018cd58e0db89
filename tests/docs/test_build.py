"""The documentation builds without a warning, is complete, and asks nothing of another host."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

import correlate
from correlate.cli.entry import group
from tests.docs.blocks import ROOT

if TYPE_CHECKING:
    from pathlib import Path

DOCS = ROOT / "docs"
ASSET = re.compile(r"<(?:script|img|link|iframe|source)\b[^>]*?(?:src|href)=\"([^\"]+)\"")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build all pages once, as DEVELOPERS.md says."""
    out: Path = tmp_path_factory.mktemp("documentation") / "html"
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-E", "docs", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return out


def test_every_page_is_there(built: Path) -> None:
    """Each Markdown file became a page, without a warning on the way."""
    for page in DOCS.rglob("*.md"):
        assert built.joinpath(page.relative_to(DOCS)).with_suffix(".html").is_file(), page


def test_the_notebook_is_executed(built: Path) -> None:
    """It is kept without results, and its page shows drawings and tables that the build made."""
    kept = json.loads((DOCS / "notebook.ipynb").read_text(encoding="utf-8"))
    code = [cell for cell in kept["cells"] if cell["cell_type"] == "code"]
    assert [cell for cell in code if cell["outputs"] or cell["execution_count"]] == []
    text = (built / "notebook.html").read_text(encoding="utf-8")
    assert len(re.findall(r'<img alt="[^"]*" src="_images/[0-9a-f]+\.svg"', text)) == 2
    assert 'aria-label="Pendulum acceleration X' in text
    assert text.count('class="dataframe"') == 6
    assert "not distinguishable" in text


def test_nothing_is_loaded_from_another_host(built: Path) -> None:
    """Scripts, styles, fonts and pictures of every page come from the build itself."""
    seen = 0
    for page in built.rglob("*.html"):
        for address in ASSET.findall(page.read_text(encoding="utf-8")):
            seen += 1
            assert not re.match(r"(?:\w+:)?//", address), f"{page.name} loads {address}"
    assert seen > 100
    for style in built.rglob("*.css"):
        assert not re.search(r"(?:@import|url\()\s*['\"]?(?:https?:)?//", style.read_text(encoding="utf-8"))


def test_formulas_are_drawn_by_the_browser_itself(built: Path) -> None:
    """Formulas of pages and docstrings are MathML."""
    for name in ("api", "index"):
        text = (built / "reference" / f"{name}.html").read_text(encoding="utf-8")
        assert "<math" in text
        assert "\\frac" not in text.replace("<!--", "")


@pytest.mark.parametrize(("listed_on", "names"), [("api", correlate._STABLE), ("index", correlate._OTHERS)])
def test_every_name_has_its_entry(built: Path, listed_on: str, names: dict[str, str]) -> None:
    """One page holds each stable name exactly once, another every further name."""
    text = (built / "reference" / f"{listed_on}.html").read_text(encoding="utf-8")
    entries = re.findall(r'id="correlate\.(\w+)"', text)
    assert sorted(entries) == sorted(names)


def test_every_command_has_its_help(built: Path) -> None:
    """The page of commands holds each one, and those inside a group."""
    text = (built / "reference" / "commands.html").read_text(encoding="utf-8")
    for name in [*group.list_commands(None), "tune propose"]:  # type: ignore[arg-type]
        assert f"Usage: correlate {name} " in text, name
