"""Words beside the rating of one channel: hardware scatter, and the stored number where it differs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.statistics import mean_of_repeats

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.campaign.channel_rating import ChannelRating
    from correlate.reference.scatter import HardwareScatter


def scatter_verdict(hardware: HardwareScatter) -> str:
    """Say whether a further test might be as far off as the model.

    Parameters
    ----------
    hardware
        With the errors of the model.

    Returns
    -------
    str
    """
    held = hardware.holds("overall")
    if held is None:
        return "hardware scatter cannot be compared with this model"
    return f"{'within' if held else 'beyond'} hardware scatter"


def scatter_numbers(hardware: HardwareScatter) -> list[tuple[str, str]]:
    """Return the numbers behind that verdict, each with its words.

    Parameters
    ----------
    hardware
        With the errors of the model.

    Returns
    -------
    list of (str, str)
        Ceiling; rating against the mean of the repeats that 95 % of further tests reach; that of the model.

    Examples
    --------
    >>> from correlate.reference.scatter import HardwareScatter
    >>> found = HardwareScatter(repeats=5, rating=0.96, bounds={"overall": 0.07}, model={"overall": 0.2})
    >>> [number for number, _ in scatter_numbers(found)], scatter_verdict(found)
    (['0.960', '0.930 or better', '0.800'], 'beyond hardware scatter')
    """
    found = [(f"{hardware.rating:.3f}", "ceiling")]
    if "overall" in hardware.bounds:
        least = max(0.0, 1.0 - hardware.bounds["overall"])
        found.append((f"{least:.3f} or better", "a further test, 95 %"))
    if "overall" in hardware.model:
        found.append(
            (f"{1.0 - hardware.model['overall']:.3f}", "model; both against the mean of the repeats")
        )
    return found


def stored_words(stored: Mapping[str, float], rated: ChannelRating, *, repeat: str = "") -> str:
    """Say where the results store holds another number than what is computed now, or none.

    Parameters
    ----------
    stored
        Ratings by repeat.
    rated
        The channel, as it is rated now.
    repeat
        The only one that is shown; empty for the mean.

    Returns
    -------
    str
        Empty where both are the same.
    """
    before = [stored[repeat]] if repeat in stored else list(stored.values()) if not repeat else []
    if not before:
        return "Not in the results store; rate the release to see this number on the scoreboard."
    was, now = mean_of_repeats(before), rated.rating.overall
    if was == now:
        return ""
    digits = 3 if f"{was:.3f}" != f"{now:.3f}" else 9
    return f"Stored {was:.{digits}f}, computed now {now:.{digits}f}: the inputs changed; rate again."


def ceiling_words(stored: float | None, hardware: HardwareScatter) -> str:
    """Say where the results store holds another ceiling than what is computed now.

    Parameters
    ----------
    stored
        Of the channel; None where there is none.
    hardware
        As it is computed now.

    Returns
    -------
    str
        Empty where both are the same, or none is stored.
    """
    if stored is None or stored == hardware.rating:
        return ""
    was, now = f"{stored:.3f}", f"{hardware.rating:.3f}"
    return f"Stored ceiling {was}, computed now {now}: the tests changed; rate them again."
