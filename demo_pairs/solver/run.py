"""The load cases the virtual model can run."""

from __future__ import annotations

import hashlib
from functools import partial
from typing import TYPE_CHECKING

from demo_pairs.solver.deck import UNITS, Deck, DeckError, Materials, read_deck
from demo_pairs.solver.history import History, write_text
from demo_pairs.solver.models import head, knee, neck, seat, thorax

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LOAD_CASES: dict[str, Callable[[Materials], History]] = {
    "head-drop": head.run,
    "neck-flexion": partial(neck.run, direction=neck.FLEXION),
    "neck-extension": partial(neck.run, direction=neck.EXTENSION),
    "thorax-impact": partial(thorax.run, speed=6.71),
    "thorax-impact-low": partial(thorax.run, speed=4.3),
    "knee-impact": knee.run,
    "seat-drop": partial(seat.run, peak=12.0),
    "seat-drop-high": partial(seat.run, peak=18.0),
}


LOG = "run.log"


def run_deck(path: Path, out: Path, only: tuple[str, ...] = ()) -> None:
    """Run a deck.

    Nothing is written before every load case has been computed; each file appears whole.
    """
    deck = read_deck(path, tuple(LOAD_CASES))
    for name in only:
        if name not in deck.load_cases:
            raise DeckError(
                f"{path}: the deck has no load case '{name}'; it has {', '.join(deck.load_cases)}"
            )
    texts: dict[str, str] = {}
    log = _log_head(deck, path)
    for name in [case for case in deck.load_cases if not only or case in only]:
        try:
            history = LOAD_CASES[name](deck.materials)
        except (ArithmeticError, ValueError) as error:
            raise ArithmeticError(f"load case '{name}' cannot be computed: {error}") from error
        texts[f"{name}.csv"] = history.text()
        log.append(f"{name}: {len(history.time)} output times to {history.time[-1]:g} ms, normal end")
    out.mkdir(parents=True, exist_ok=True)
    for file, text in texts.items():
        write_text(out / file, text)
    write_text(out / LOG, "\n".join([*log, ""]))


def _log_head(deck: Deck, path: Path) -> list[str]:
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    materials = [
        f"  {name} = {getattr(deck.materials, name) / factor:.6g} {unit}"
        for name, (unit, factor) in UNITS.items()
    ]
    return [
        f"deck {deck.name} ({path.name}, sha256 {digest})",
        "units mm, ms, kg, kN",
        "materials",
        *materials,
    ]
