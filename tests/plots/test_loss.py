"""The strip of losses shows the account, complete and with units."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import rate
from correlate.diagnosis.accounting import COMPONENTS, account_for_loss
from correlate.plots.loss import loss_strip
from tests.metrics.curves import pair_of, pulse


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_bars_add_up_to_what_is_lost(theme: str) -> None:
    """Four rows of bars, one per component, together 1 minus the rating; both axes have units."""
    pair = pair_of(pulse(600, start=100, length=200), 0.8 * pulse(600, start=120, length=240))
    rating = rate(pair)
    figure = loss_strip(account_for_loss(rating), theme=theme)  # type: ignore[arg-type]
    assert [bar.name for bar in figure.data] == list(COMPONENTS)
    assert sum(np.sum(bar.y) for bar in figure.data) == pytest.approx(1 - rating.overall, abs=1e-9)
    assert figure.layout.xaxis.title.text == "time [ms]"
    assert figure.layout.yaxis.title.text == "rating points<br>lost in 5 ms [1]"
    assert len({bar.marker.color for bar in figure.data}) == 4
