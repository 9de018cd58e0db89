"""The load cases the virtual model can run."""

from collections.abc import Callable
from functools import partial

from demo_pairs.solver.history import History
from demo_pairs.solver.materials import Materials
from demo_pairs.solver.models import head, knee, neck, seat, thorax

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
