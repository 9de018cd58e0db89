"""The program that fills in the template of a deck, in a process of its own with limited time and memory.

A template is a program: it can loop, call itself, and make texts of any length. So it runs here, where it can
be ended. This file is run by path and imports nothing of the package; `correlate.tuning.decks` talks to it.
Each line of its input and output is one message in JSON: first the template, answered by its fields, then the
values of a deck at a time, answered by the deck or by what is wrong.
"""

from __future__ import annotations

import json
import signal
import sys
import traceback
from typing import TYPE_CHECKING, Any, Final

from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, meta
from jinja2.exceptions import SecurityError
from jinja2.sandbox import MAX_RANGE, ImmutableSandboxedEnvironment

if TYPE_CHECKING:
    from jinja2 import Template
    from jinja2.runtime import Context

_FAILURES: Final = (TemplateError, TypeError, ValueError, ArithmeticError, LookupError, AttributeError)
"""What a template raises that computes what cannot be computed."""


class Sandbox(ImmutableSandboxedEnvironment):
    """Environment in which a template can compute, but access nothing except numbers and text."""

    intercepted_binops = frozenset({"*", "**"})

    def call_binop(self, context: Context, operator: str, left: Any, right: Any) -> Any:
        """Multiply, but refuse texts, lists and powers that are longer than a range may be."""
        size = 0
        if operator == "**" and isinstance(left, int) and isinstance(right, int):
            size = left.bit_length() * right
        elif operator == "*":
            size = _repeated(left, right) or _repeated(right, left)
        if size > MAX_RANGE:
            raise SecurityError(f"'{operator}' gives more than {MAX_RANGE} characters or bits")
        return super().call_binop(context, operator, left, right)


def _repeated(what: Any, times: Any) -> int:
    return len(what) * times if isinstance(what, str | bytes | list | tuple) and isinstance(times, int) else 0


def _line_of(error: BaseException) -> int | None:
    """Return the line of a template on which an error occurred."""
    # The library replaces the frames of its code by frames with the lines of the template.
    frames = traceback.extract_tb(error.__traceback__)
    lines = [frame.lineno for frame in frames if frame.filename in {"<template>", "<unknown>"}]
    return lines[-1] if lines else None


def _limit(memory: int) -> None:
    """Limit the memory of this process, and let it write no file."""
    try:
        import resource  # noqa: PLC0415 - Windows has none
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class TooLongError(Exception):
    """A deck is longer than it may be."""


def checked(text: str) -> tuple[Template, dict[str, Any]]:
    """Return a template, and the names of its fields."""
    # A deck is no web page: escaping would spoil it.
    environment = Sandbox(undefined=StrictUndefined, keep_trailing_newline=True, autoescape=False)
    fields = sorted(meta.find_undeclared_variables(environment.parse(text)))
    return environment.from_string(text), {"fields": fields}


def filled(template: Template, values: dict[str, Any], most: int) -> str:
    """Return a deck of at most so many characters."""
    pieces: list[str] = []
    size = 0
    for piece in template.generate(**values):
        size += len(piece)
        if size > most:
            raise TooLongError
        pieces.append(piece)
    deck = "".join(pieces)
    deck.encode("utf-8")  # half of a character cannot be written
    return deck


def answer(error: BaseException) -> dict[str, Any]:
    """Return what is wrong, as a message."""
    words, line = " ".join(str(error).split())[:500], _line_of(error)
    if isinstance(error, TemplateSyntaxError):
        return {"wrong": "syntax", "words": error.message or words, "line": error.lineno}
    if isinstance(error, SecurityError):
        return {"wrong": "security", "words": words, "line": line}
    if isinstance(error, TooLongError):
        return {"wrong": "length", "words": "", "line": line}
    if isinstance(error, MemoryError):
        return {"wrong": "memory", "words": "", "line": line}
    if isinstance(error, RecursionError | SyntaxError):
        return {"wrong": "depth", "words": "", "line": line}
    return {"wrong": "filling", "words": words, "line": line}


def main() -> None:
    """Answer message by message until the input ends."""
    template: Template | None = None
    most = 0
    for line in sys.stdin.buffer:
        message = json.loads(line)
        if hasattr(signal, "alarm"):
            # Ends this process, also where the one that started it has ended.
            signal.alarm(message["seconds"])
        try:
            if template is None:
                _limit(message["memory"])
                most = message["most"]
                template, reply = checked(message["template"])
            else:
                reply = {"deck": filled(template, message["values"], most)}
        except (*_FAILURES, TooLongError, MemoryError, RecursionError, SyntaxError) as error:
            reply = answer(error)
        if hasattr(signal, "alarm"):
            signal.alarm(0)
        sys.stdout.buffer.write(json.dumps(reply, ensure_ascii=False).encode() + b"\n")
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
