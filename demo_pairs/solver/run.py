"""Run the load cases of a deck and write one file each, and a log."""

import hashlib
from pathlib import Path

from demo_pairs.solver.deck import Deck, DeckError, read_deck
from demo_pairs.solver.history import write_text
from demo_pairs.solver.load_cases import LOAD_CASES
from demo_pairs.solver.materials import UNITS

LOG = "run.log"


def run_deck(path: Path, out: Path, only: tuple[str, ...] = ()) -> None:
    """Run a deck.

    Nothing is written before every load case has been computed; each file appears whole.

    Parameters
    ----------
    path
        The deck.
    out
        Folder for ``<load-case>.csv`` and ``run.log``; made when absent.
    only
        Limits the run to these load cases; empty runs all that the deck asks for.

    Raises
    ------
    DeckError
        The deck is wrong, or does not ask for a load case in ``only``.
    ArithmeticError
        The integration failed; the message names the load case.
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
