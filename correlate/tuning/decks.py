"""Decks of design points: a template that is filled in, or a table of values."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import queue
import signal
import subprocess
import sys
import threading
import weakref
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import FormatError
from correlate.limits import LARGEST_RECORD
from correlate.plain_files import whole_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import IO

    from correlate.tuning.definition import Tuning

SECONDS: Final = 20
"""That filling in one template may take. Chosen here."""
MOST_ADDED: Final = 2**25
"""Characters by which a deck may be longer than its template: 32 Mi."""
MEMORY: Final = 2**29
"""Bytes that filling in may take, beside …"""
MEMORY_TIMES: Final = 16
"""… so many for every character of a template. Chosen here."""

_ALARM: Final = int(getattr(signal, "SIGALRM", 0))
_PROGRAM: Final = Path(__file__).with_name("deck_rendering.py")


@dataclass(frozen=True, slots=True)
class WrittenDeck:
    """The deck of one design point.

    Attributes
    ----------
    text
        What is written.
    sha256
        Of the text in UTF-8.
    """

    text: str

    @property
    def sha256(self) -> str:
        """Hash that tells one deck from another, 64 hexadecimal characters."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()


class DeckWriter:
    """Writes the decks of a tuning project."""

    def __init__(self, tuning: Tuning) -> None:
        self._space = tuning.space
        self._template: _Template | None = None
        if tuning.deck.way == "template":
            self._template = _Template(tuning.folder / tuning.deck.template)
            self._check_fields(self._template.fields, str(tuning.folder / tuning.deck.template))

    def write(self, values: Mapping[str, float], *, name: str) -> WrittenDeck:
        """Write the deck of one point.

        Parameters
        ----------
        values
            Of the parameters, by name.
        name
            Of the design point, for the field ``point``.

        Returns
        -------
        WrittenDeck

        Raises
        ------
        FormatError
            The template cannot be filled in, or does more than fill in fields.
        """
        if self._template is None:
            return WrittenDeck(self._as_table(values))
        return WrittenDeck(self._template.filled({**values, "point": name}))

    def _as_table(self, values: Mapping[str, float]) -> str:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["parameter", "value", "unit"])
        writer.writerows([one.name, repr(values[one.name]), one.unit] for one in self._space.parameters)
        return out.getvalue()

    def _check_fields(self, fields: set[str], where: str) -> None:
        strange = sorted(fields - {*self._space.names, "point"})
        missing = [name for name in self._space.names if name not in fields]
        found = [f"field '{name}' is not a parameter" for name in strange]
        found += [f"parameter '{name}' has no field" for name in missing]
        if found:
            raise FormatError(
                "; ".join(found), where=where, remedy=f"the parameters are {', '.join(self._space.names)}"
            )


class _Template:
    """A template, filled in by a process of its own that is started again when it had to be ended."""

    def __init__(self, path: Path) -> None:
        self._where = str(path)
        try:
            self._text = whole_text(path, most=LARGEST_RECORD)
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
            raise FormatError(
                f"the template cannot be read ({reason})", where=self._where, remedy="check the file"
            ) from error
        self._turn = threading.Lock()
        self._process: _Process | None = None
        with self._turn:
            self.fields = set(self._started()["fields"])

    def filled(self, values: Mapping[str, Any]) -> str:
        """Return the deck of these values."""
        with self._turn:
            if self._process is None:
                self._started()
            deck: str = self._answered({"values": dict(values)})["deck"]
            return deck

    def _started(self) -> dict[str, Any]:
        most = len(self._text) + MOST_ADDED
        self._process = process = _Process()
        weakref.finalize(self, process.end)
        return self._answered(
            {"template": self._text, "most": most, "memory": MEMORY + MEMORY_TIMES * len(self._text)}
        )

    def _answered(self, message: dict[str, Any]) -> dict[str, Any]:
        process = self._process
        assert process is not None  # noqa: S101 - both callers start it
        reply = process.ask({**message, "seconds": SECONDS})
        if "wrong" not in reply:
            return reply
        # What is left of a process that ran out of something is not used again.
        self._process = None
        process.end()
        raise self._error(**reply)

    def _error(self, wrong: str, words: str, line: int | None) -> FormatError:
        """Return the sentence for what is wrong with the template."""
        what, remedy = {
            "syntax": (f"the template has a syntax error: {words}", "write fields as {{ name }}"),
            "security": (f"the template does more than fill in fields: {words}".removesuffix("."), _USE),
            "length": (
                f"the template produces a deck of more than {MOST_ADDED // 2**20} Mi characters",
                _USE,
            ),
            "memory": ("the template takes too much memory", _USE),
            "time": (f"the template takes more than {SECONDS} s to fill in", _USE),
            "depth": ("the template is nested too deeply, or calls itself", _USE),
            "filling": (f"the template cannot be filled in: {words}", "correct the field"),
        }[wrong]
        place = "" if line is None else f", line {line}"
        return FormatError(what, where=f"{self._where}{place}", remedy=remedy)


_USE: Final = "use fields, arithmetic and formats such as '%10.3e' only"


class _Process:
    """The process that fills in a template, and the thread that reads its answers."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(  # noqa: S603 - our own program
            [sys.executable, "-P", str(_PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._thread = threading.Thread(
            target=_read, args=[self._process.stdout, self._lines], name="deck answers", daemon=True
        )
        self._thread.start()

    def ask(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """Send a message and return its answer; a process that does not answer in time took too long."""
        assert self._process.stdin is not None  # noqa: S101 - for the types
        try:
            self._process.stdin.write(json.dumps(message).encode() + b"\n")
            self._process.stdin.flush()
            # The process ends itself in time; on systems where it cannot, it is ended from here.
            line = self._lines.get(timeout=2 * SECONDS)
        except (queue.Empty, OSError):
            line = b""
        if line.endswith(b"\n"):
            reply: dict[str, Any] = json.loads(line)
            return reply
        return {"wrong": "time" if self._took_too_long() else "memory", "words": "", "line": None}

    def _took_too_long(self) -> bool:
        """Say whether it was ended for its time, by the alarm that it set or by having to be ended now."""
        try:
            return self._process.wait(1) == -_ALARM
        except subprocess.TimeoutExpired:
            return True

    def end(self) -> None:
        """End the process and close what leads to it."""
        self._process.kill()
        self._process.wait()
        self._thread.join()
        for stream in (self._process.stdin, self._process.stdout):
            if stream is not None:
                with suppress(BrokenPipeError):
                    stream.close()


def _read(stream: IO[bytes], lines: queue.SimpleQueue[bytes]) -> None:
    """Pass on line by line, and an empty one at the end."""
    for line in stream:
        lines.put(line)
    lines.put(b"")
