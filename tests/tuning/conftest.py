"""One thread for the linear algebra: on small matrices, several mostly wait for each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import scipy.linalg  # noqa: F401 - its library must be loaded to be limited
from threadpoolctl import threadpool_limits

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="module", autouse=True)
def one_thread() -> Iterator[None]:
    """Limit the linear algebra of a test file to one thread."""
    with threadpool_limits(limits=1, user_api="blas"):
        yield
