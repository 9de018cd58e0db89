"""``correlate tune``: raise the rating of a model by tuning its material cards."""

from __future__ import annotations

from typing import Final

import click

from correlate.cli.lazy_group import LazyGroup
from correlate.extras import need_extra

_COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "design": ("correlate.cli.tune.design", "Choose the first design points."),
    "run": ("correlate.cli.tune.run", "Run and rate the design points that are missing."),
    "decks": ("correlate.cli.tune.decks", "Write the decks of missing points, to be run elsewhere."),
    "collect": ("correlate.cli.tune.collect", "Import and rate results of runs made elsewhere."),
    "show": ("correlate.cli.tune.show", "Show every design point, its status and its outcomes."),
    "fit": ("correlate.cli.tune.fit", "Fit surrogates, and show which parameters influence which outcomes."),
    "propose": ("correlate.cli.tune.propose", "Propose the next design points, each with its prediction."),
    "confirm": ("correlate.cli.tune.confirm", "Compare proposed runs with their predictions."),
    "write": ("correlate.cli.tune.write", "Write a tuned deck as a new release, with its change list."),
}


@click.group(cls=LazyGroup, modules=_COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """Raise the rating of a model by tuning its material cards, and prove it on held-out load cases.

    Every command takes TUNING, a tuning file or the folder that holds a tuning.toml.
    """
    need_extra("tuning")
