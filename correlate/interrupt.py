"""Ctrl-C: a program cleans up, says one sentence and ends with exit code 130, whatever it was doing."""

from __future__ import annotations

import os
import signal
import sys
import time
from contextlib import contextmanager
from functools import wraps
from typing import TYPE_CHECKING, Final, NoReturn, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")

INTERRUPTED: Final = 130
"""Exit code after Ctrl-C, as shells have it: 128 and the number of the signal."""
SENTENCE: Final = "correlate: stopped by Ctrl-C"
_ONE_PRESS_S: Final = 1.0
"""A terminal and the program that started this one may both pass the same Ctrl-C on. Chosen here."""
_SOON_S: Final = 0.02
_LOADED_S: Final = 1.0


class Interrupted(BaseException):
    """Ctrl-C, beyond the reach of a library that would print its own word for it."""


class _State:
    """What is known of Ctrl-C in this process."""

    pressed_at = -_ONE_PRESS_S
    is_pressed = False
    is_held = False
    is_waiting = False
    is_leaving = False


def run_program(work: Callable[[], object]) -> None:
    """Run what a program does; Ctrl-C ends the process, and the processes it started, with exit code 130.

    Where the starter of the program wants Ctrl-C to be ignored, it is.
    """
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        work()
        return
    signal.signal(signal.SIGINT, _pressed)
    sys.unraisablehook = _unraisable
    try:
        work()
    except BaseException as error:
        if _State.is_pressed or isinstance(error, KeyboardInterrupt | Interrupted):
            # A command that has said its own sentence ends with this code.
            _leave(is_told=isinstance(error, SystemExit) and error.code == INTERRUPTED)
        raise
    else:
        if _State.is_pressed:
            _leave(is_told=False)
    finally:
        _State.is_leaving = True


def interruptible(function: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """Let Ctrl-C pass through a library of the command line, which would print "Aborted!" for it."""

    @wraps(function)
    def run(*arguments: Arguments.args, **options: Arguments.kwargs) -> Result:
        try:
            return function(*arguments, **options)
        except KeyboardInterrupt as error:
            raise Interrupted from error

    return run


@contextmanager
def held_back() -> Iterator[None]:
    """Hold Ctrl-C back while a process is started, which then never hears of it itself."""
    mask = getattr(signal, "pthread_sigmask", None)  # not on Windows
    before = mask(signal.SIG_BLOCK, {signal.SIGINT}) if mask else None
    was_held, _State.is_held = _State.is_held, True
    try:
        yield
    finally:
        _State.is_held = was_held
        if mask:
            mask(signal.SIG_SETMASK, before)
        if _State.is_waiting and not was_held:
            _State.is_waiting = False
            raise KeyboardInterrupt


def start_module() -> None:
    """Run the module that the first argument names, as ``python -m`` does; Ctrl-C may come while it loads."""
    from runpy import run_module  # noqa: PLC0415 - only a program needs it

    del sys.argv[0]
    run_program(lambda: run_module(sys.argv[0], run_name="__main__", alter_sys=True))


def _pressed(number: int, frame: FrameType | None) -> None:  # noqa: ARG001 - the signature is the system's
    if _State.is_leaving:
        _leave(is_told=False)
    now = time.monotonic()
    if now - _State.pressed_at < _ONE_PRESS_S:
        return
    _State.is_pressed, _State.pressed_at = True, now
    if _State.is_held:
        _State.is_waiting = True
        return
    _end_workers()
    if _is_loading(frame):
        # Some libraries take whatever stops one of their imports for a part that is not installed.
        _press_again(_LOADED_S)
    raise Interrupted if _is_between(frame) else KeyboardInterrupt


def _is_between(frame: FrameType | None) -> bool:
    """Say whether the library of the command line is at work itself, where nothing stands in its way."""
    while frame is not None and frame.f_code.co_filename != __file__:
        if frame.f_globals.get("__name__") == "click.core" and frame.f_code.co_name == "main":
            return True
        frame = frame.f_back
    return False


def _is_loading(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _press_again(after_s: float) -> None:
    from _thread import interrupt_main  # noqa: PLC0415 - rarely needed
    from threading import Timer  # noqa: PLC0415

    def press() -> None:
        _State.pressed_at = -_ONE_PRESS_S
        interrupt_main()

    again = Timer(after_s, press)
    again.daemon = True
    again.start()


def _unraisable(problem: sys.UnraisableHookArgs) -> None:
    """Press again in a moment where Python had to swallow it, as in a callback of the memory management."""
    if not issubclass(problem.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(problem)
        return
    _press_again(_SOON_S)


def _end_workers() -> None:
    """End the processes that share the work; a solver and a server are ended by who started them."""
    multiprocessing = sys.modules.get("multiprocessing")
    if multiprocessing is not None:
        for worker in multiprocessing.active_children():
            worker.terminate()


def _leave(*, is_told: bool) -> NoReturn:
    """End at once: threads that are still at work have nothing to write."""
    # A second one, of the terminal or of the program that started this one, must not say it again.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _State.is_leaving = True
    _end_workers()
    if not is_told:
        print(SENTENCE, file=sys.stderr)  # noqa: T201 - the library of the command line may not be loaded yet
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue  # nobody reads it any more
    os._exit(INTERRUPTED)


if __name__ == "__main__":
    from correlate.interrupt import start_module as start

    # Not the function above: the state of this module must be that of the module others import.
    start()
