"""Locks: one holder at a time, and what is said of the other."""

from __future__ import annotations

import json
import socket
from typing import TYPE_CHECKING

import pytest

from correlate.errors import SettingsError
from correlate.files import Lock
from correlate.tuning.running import lock_of_run, sign

if TYPE_CHECKING:
    from pathlib import Path


def test_a_lock_is_free_again_when_its_holder_lets_go(tmp_path: Path) -> None:
    """While held, the second is refused."""
    path = tmp_path / "lock"
    with Lock(path), pytest.raises(BlockingIOError):
        Lock(path)
    with Lock(path) as lock:
        sign(lock, 4711)
        assert json.loads(path.read_text(encoding="utf-8")) == {"host": socket.gethostname(), "group": 4711}


def test_a_run_on_another_machine_is_left_alone_and_named(tmp_path: Path) -> None:
    """Nothing is stopped by a number that belongs to another host."""
    path = tmp_path / "lock"
    with Lock(path):
        path.write_text('{"host": "far-away", "group": 1}', encoding="utf-8")
        with pytest.raises(SettingsError, match="is still being run on far-away; wait for it"):
            lock_of_run(path)


def test_a_holder_that_has_not_signed_is_left_alone(tmp_path: Path) -> None:
    """Without a process to name, nothing is stopped."""
    path = tmp_path / "lock"
    with Lock(path):
        path.write_text("", encoding="utf-8")
        with pytest.raises(SettingsError, match="is still being run; wait for it"):
            lock_of_run(path)
