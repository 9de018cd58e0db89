"""The page on tuning: every key and command is on it, and its example is a file that can be used."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.cli.tune import tune_command as command
from correlate.tuning.definition import (
    PLACES,
    ClusterTable,
    CommandTable,
    DeckTable,
    GoalTable,
    ParameterTable,
    RatedTable,
    TuningTable,
    WindowTable,
    load_tuning,
)
from correlate.tuning.runs import STATUSES, RunRecord

if TYPE_CHECKING:
    from pydantic import BaseModel

PAGE = (Path(__file__).parents[2] / "docs" / "tuning.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "table",
    [TuningTable, ParameterTable, DeckTable, CommandTable, ClusterTable, RatedTable, GoalTable, WindowTable],
    ids=lambda table: table.__name__,
)
def test_every_key_is_explained(table: type[BaseModel]) -> None:
    """No key of the file is missing on the page."""
    assert [key for key in table.model_fields if f"`{key}`" not in PAGE and f"[{key}]" not in PAGE] == []


def test_every_command_status_and_place_is_explained() -> None:
    """Nor is a command, an end of a run, a word for the command line, or a key of a record."""
    commands = [f"tune {name}" for name in command.list_commands(None)]  # type: ignore[arg-type]
    words = [*commands, *(f"`{{{place}}}`" for place in PLACES), *(f"`{status}`" for status in STATUSES)]
    keys = [f"`{key}`" for key in RunRecord.__dataclass_fields__]
    assert [word for word in (*words, *keys) if word not in PAGE] == []


def test_the_example_can_be_used(tmp_path: Path) -> None:
    """The file on the page loads without a mistake."""
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert example
    (tmp_path / "tuning.toml").write_text(example[1], encoding="utf-8")
    for name in ("model.template", "campaign.toml"):
        (tmp_path / name).touch()
    tuning = load_tuning(tmp_path)
    assert tuning.space.names == ("rib_stiffness", "rib_damping")
