"""Lines of the modules under test that an input reaches."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import CodeType, FrameType

ROOT: Final = Path(__file__).parent.parent.parent


class Lines:
    """Lines that were reached, in files whose path in the project begins with one of some texts.

    A function all of whose lines were reached is not traced again, so that tracing costs less and less.
    """

    def __init__(self, within: Sequence[str]) -> None:
        self._begins = tuple(str(ROOT / one) for one in within)
        self._missing: dict[CodeType, set[int]] = {}
        self._reached = 0

    def __len__(self) -> int:
        """Return how many lines were reached."""
        return self._reached

    @contextmanager
    def traced(self) -> Iterator[None]:
        """Record what is reached in the body; a tracer from before, as of a debugger, resumes after it."""
        before = sys.gettrace()
        sys.settrace(self._enter)
        try:
            yield
        finally:
            sys.settrace(before)

    def _enter(self, frame: FrameType, _event: str, _argument: Any) -> Any:
        code = frame.f_code
        missing = self._missing.get(code)
        if missing is None:
            known = code.co_filename.startswith(self._begins)
            missing = {line for *_, line in code.co_lines() if line is not None} if known else set()
            missing.discard(code.co_firstlineno)
            self._missing[code] = missing
        return self._line if missing else None

    def _line(self, frame: FrameType, event: str, _argument: Any) -> Any:
        missing = self._missing[frame.f_code]
        if event == "line" and frame.f_lineno in missing:
            missing.discard(frame.f_lineno)
            self._reached += 1
        return self._line
