"""Settings that all tests share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Iterator

# No deadline: the first call of a compiled kernel includes its compilation.
settings.register_profile(
    "project",
    deadline=None,
    derandomize=True,
    print_blob=True,
    # How fast examples are drawn depends on what else the machine does.
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("project")


@pytest.fixture(scope="session", autouse=True)
def _own_state(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep jobs and computed values of the tests apart from those of the user who runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield
