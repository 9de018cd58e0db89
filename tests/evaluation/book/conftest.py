"""A campaign file with a channel book, and the same written out long."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HEAD = """
[campaign]
title = "Book"

[[release]]
name = "B1"
folder = "model"
"""


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    """Return what writes a campaign file below its first tables, and further files by name."""

    def written(text: str, **books: str) -> Path:
        for name, content in books.items():
            path = tmp_path / "books" / f"{name}.toml"
            path.parent.mkdir(exist_ok=True)
            path.write_text(content, encoding="utf-8")
        top, _, rest = text.partition("#\n")
        (tmp_path / "campaign.toml").write_text(f"{top}{HEAD}{rest}", encoding="utf-8")
        return tmp_path / "campaign.toml"

    return written
