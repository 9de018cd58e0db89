"""What the commands for one pair share: the two channels and how they are conditioned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import click
from click.core import ParameterSource

from correlate.errors import ChannelError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.signal import Signal

_OPTIONS = (
    click.option(
        "--channel", metavar="NAME", help="Channel of REFERENCE; may be left out when there is one."
    ),
    click.option(
        "--candidate-channel",
        metavar="NAME",
        help="Channel of CANDIDATE.  [default: the only one, or as --channel]",
    ),
    click.option("--cfc", type=int, metavar="CLASS", help="Filter both: 60, 180, 600 or 1000."),
    click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval of evaluation."),
    click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval of evaluation."),
    click.option(
        "--step", "step_ms", type=float, metavar="MS", default=0.1, show_default=True, help="Time step."
    ),
    click.option("--turn-sign", is_flag=True, help="Invert the sign of CANDIDATE."),
)


def pair_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that name two channels and condition them.

    Parameters
    ----------
    command
        Takes ``channel, candidate_channel, cfc, from_ms, to_ms, step_ms, turn_sign``.

    Returns
    -------
    callable
    """
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


CONDITIONING: Final = {
    "candidate_channel": "--candidate-channel",
    "cfc": "--cfc",
    "from_ms": "--from",
    "to_ms": "--to",
    "step_ms": "--step",
    "turn_sign": "--turn-sign",
}
"""Options that say how two files are compared, by the name of their parameter."""


def refuse_options(options: Mapping[str, str], why: str) -> None:
    """Refuse options that say nothing here, rather than pass over them.

    Parameters
    ----------
    options
        As written, by the name of their parameter.
    why
        Why they say nothing.

    Raises
    ------
    SettingsError
        One of them is given.
    """
    context = click.get_current_context()
    for name, option in options.items():
        if context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            raise SettingsError(f"{option} {why}", where=str(context.info_name))


@dataclass(frozen=True, slots=True, kw_only=True)
class PairChoice:
    """What the options say.

    Attributes
    ----------
    channel, candidate_channel
        Names; None where they are left out.
    cfc, from_ms, to_ms, step_ms, turn_sign
        Conditioning, as in the options.
    """

    channel: str | None
    candidate_channel: str | None
    cfc: int | None
    from_ms: float | None
    to_ms: float | None
    step_ms: float
    turn_sign: bool

    @property
    def recipe(self) -> Recipe:
        """How both curves are conditioned."""
        from correlate.conditioning import Recipe  # noqa: PLC0415 - loads the kernels, which help must not

        return Recipe(
            cfc=self.cfc,
            start_s=None if self.from_ms is None else self.from_ms / 1e3,
            end_s=None if self.to_ms is None else self.to_ms / 1e3,
            step_s=self.step_ms / 1e3,
            candidate_sign=-1 if self.turn_sign else 1,
        )

    def reference(self, path: Path) -> tuple[Signal, Recording]:
        """Read the named channel, or the only one, and the recording it is in."""
        from correlate.formats import read  # noqa: PLC0415

        recording = read(path)
        return one_channel(recording, self.channel), recording

    def candidate(self, path: Path) -> tuple[Signal, Recording]:
        """Read the named channel, or the only one, or the one called as in the reference."""
        from correlate.formats import read  # noqa: PLC0415

        recording = read(path)
        if self.candidate_channel is not None:
            return recording.channel(self.candidate_channel), recording
        if self.channel in recording.channel_names and len(recording.signals) > 1:
            return recording.channel(self.channel), recording
        return _only(recording, "--candidate-channel"), recording


def one_channel(recording: Recording, name: str | None) -> Signal:
    """Return the named channel of a test, or the only one.

    Parameters
    ----------
    recording
        The test.
    name
        Of the channel, or None.

    Returns
    -------
    Signal

    Raises
    ------
    ChannelError
        There is none of that name, or several and no name.
    """
    return _only(recording, "--channel") if name is None else recording.channel(name)


def _only(recording: Recording, option: str) -> Signal:
    """Return the only channel; several are listed with the option that names one."""
    try:
        return recording.only_channel()
    except ChannelError as error:
        raise ChannelError(error.what, where=error.where, remedy=f"name one with {option}") from error
