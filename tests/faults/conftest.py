"""The program that runs commands, and the server, once for all tests of a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.faults.rounds import Program, running_program
from tests.faults.servers import one_server

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="module")
def program() -> Iterator[Program]:
    """Start the program and the server."""
    with running_program() as started, one_server():
        yield started
