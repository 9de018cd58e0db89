"""Where a release loses its rating, in text for display."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.common_time import LEAST_S
from correlate.diagnosis.suspects.timing import PHYSICAL_S
from correlate.plots.wording import delay_in_words, milliseconds, number, share, unit_words

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from correlate.campaign.explanation import ChannelCost, ChannelExplanation, LoadCaseExplanation
    from correlate.diagnosis.accounting import Stretch
    from correlate.diagnosis.clusters import Cluster, Member
    from correlate.diagnosis.hints import Hint
    from correlate.diagnosis.suspects import Suspect
    from correlate.diagnosis.what_if import CurveChange

_ERROR_WORDS: Final[dict[str, str]] = {
    "corridor": "corridor loss {}",
    "magnitude": "sizes differ by {}",
    "slope": "slopes differ by {}",
}

CHANGES: Final = ("shift", "scale", "offset", "stretch", "together")
"""The changes of a model's curve that are tried, alone and together."""
HINT_CAUTION: Final = (
    "Suspected errors, shared causes and hints show where to look first; they are not findings. Similar "
    "curves can have different causes: check the input before changing the model."
)
"""The caution under suspects, shared causes and hints."""
MODEL_IS_ZERO: Final = "the model is zero throughout: not connected, or the wrong column?"
NO_SUSPECT: Final = (
    f"none found; a delay under {milliseconds(PHYSICAL_S)}, or a longer one beside other errors, cannot be "
    "distinguished from a late model: check the trigger"
)
NO_SUSPECT_OF_RELEASE: Final = (
    f"none found; a delay of one channel under {milliseconds(PHYSICAL_S)}, or of all channels together under "
    f"{milliseconds(LEAST_S)}, or a longer one beside other errors, cannot be distinguished from a late "
    "model: check the trigger"
)
HINTS_WAIT: Final = "hints are withheld until the suspected error is resolved"
"""What is said instead of hints, where the first suspected error looks like a material."""
ALL_CHANNELS: Final = "all channels"
"""Where a suspect is of a load case and not of one channel."""
LEAST_SHOWN: Final = 0.2
"""Hints below this probability are not printed: on the family for judging 5 % of them were right."""
MOST_SHOWN: Final = 2
"""Hints that are printed."""
NO_HINT: Final = (
    "none: the differences are as small as those of a good model, or no behaviour reaches a probability of "
    f"{LEAST_SHOWN:.2f}"
)
LIMIT_OF_SEARCH: Final = " (limit of the search)"
"""Said after a change or a delay that is as large as the search allows."""
_POLARITY: Final = "check the polarity of both sides; if the model is wrong, {}"
_PAIR_REMEDIES: Final = {-1: "add --turn-sign", 1: "leave --turn-sign out"}


def points(cost: float) -> str:
    """Return a cost in rating points.

    Examples
    --------
    >>> points(0.0213), points(0.0001)
    ('0.021 points', 'under 0.001 points')
    """
    return "under 0.001 points" if 0.0 < cost < 0.0005 else f"{cost:.3f} points"


def place_words(cost: ChannelCost) -> str:
    """Return load case and channel."""
    return f"{cost.load_case}, {cost.words}"


def finding_words(channel: ChannelExplanation) -> str:
    """Return the component that costs most, its error, and whether that is within hardware scatter.

    A delay is reported in any case, because it lowers the corridor score too.
    """
    cost = channel.cost
    if channel.model_is_zero:
        return MODEL_IS_ZERO
    if cost.mostly is None:
        return "not rated, counts as 0" if cost.rating is None else "not divided by component"
    said = f"mostly {cost.mostly}"
    if cost.mostly in cost.errors:
        said += f", {_against_hardware(channel, cost.mostly)}"
    if cost.mostly != "phase" and cost.errors.get("phase"):
        said += f"; {_against_hardware(channel, 'phase')}"
    return said if channel.hardware else f"{said}; too few repeats to determine hardware scatter"


def error_words(component: str, error: float) -> str:
    """Return the error of a component.

    Examples
    --------
    >>> error_words("phase", 0.004), error_words("magnitude", 0.231), error_words("corridor", 0.387)
    ('model 4 ms late', 'sizes differ by 23 %', 'corridor loss 0.39')
    """
    if component == "phase":
        return delay_in_words(error)
    return _ERROR_WORDS[component].format(_size(component, error))


def _against_hardware(channel: ChannelExplanation, component: str) -> str:
    """Return an error, and whether a further repeat might have one as large.

    Error and bound are both against the mean of the repeats, so that the two can be compared.
    """
    hardware = channel.hardware
    held = None if hardware is None else hardware.holds(component)
    if hardware is None or held is None:
        return error_words(component, channel.cost.errors[component])
    error, bound = hardware.model[component], _size(component, hardware.bounds[component])
    said = _size_words(error) if component == "magnitude" else error_words(component, error)
    return f"{said}, {'within' if held else 'beyond'} hardware scatter (up to {bound})"


def _size_words(error: float) -> str:
    return (
        f"model {_size('magnitude', error)} too {'large' if error > 0 else 'small'}"
        if error
        else "correct size"
    )


def _size(component: str, error: float) -> str:
    """Return the size of an error with its unit, two digits long."""
    size = _digits(abs(error), 2)
    if component == "corridor":
        return number(size) if size >= 0.001 or not size else "under 0.001"
    return milliseconds(size) if component == "phase" else share(size)


def _digits(value: float, count: int) -> float:
    return float(f"{value:.{count}g}")


def stretch_words(stretch: Stretch) -> str:
    """Return a stretch of time in ms."""
    return f"{number(stretch.start_s * 1e3)} to {milliseconds(stretch.end_s)}"


def change_words(change: CurveChange, unit: str, at_limit: Collection[str] = ()) -> str:
    """Say how the model's curve would be changed.

    Examples
    --------
    >>> from correlate.diagnosis.what_if import CurveChange
    >>> change_words(CurveChange(shift_s=-0.0041, scale=1.082, offset=-0.12, stretch=0.97), "kN")
    '4.1 ms earlier, × 1.082, −0.12 kN, time × 0.97'
    """
    said = {}
    if change.shift_s:
        moved = milliseconds(_digits(abs(change.shift_s), 3))
        said["shift_s"] = f"{moved} {'later' if change.shift_s > 0 else 'earlier'}"
    if change.scale != 1.0:
        said["scale"] = f"× {number(_digits(change.scale, 4))}"
    if change.offset:
        sign = "+" if change.offset > 0 else ""
        said["offset"] = f"{sign}{number(_digits(change.offset, 3))} {unit_words(unit)}"
    if change.stretch != 1.0:
        said["stretch"] = f"time × {number(_digits(change.stretch, 4))}"
    return ", ".join(words + LIMIT_OF_SEARCH if kind in at_limit else words for kind, words in said.items())


def suspect_words(suspect: Suspect) -> str:
    """Return a suspect with its evidence, both ratings, and what to do."""
    before = "Not rated" if suspect.rating_before is None else f"Rating {suspect.rating_before:.3f}"
    evidence, fix = suspect.evidence.rstrip("."), suspect.fix.rstrip(".")
    after = f"corrected {suspect.rating_after:.3f}"
    return f"{suspect.kind}: {evidence}. {before}, {after}. {fix[:1].upper()}{fix[1:]}."


def for_a_pair(suspect: Suspect) -> Suspect:
    """Return a suspect whose remedy is an option of the command, because a pair has no campaign file."""
    if suspect.kind != "sign turned":
        return suspect
    return replace(suspect, fix=_POLARITY.format(_PAIR_REMEDIES[suspect.change["candidate_sign"]]))


def hint_words(hint: Hint, words: Mapping[str, str]) -> str:
    """Return a hint with its probability and the channels that support and contradict it."""
    speaking = f" Supported by {_listed(hint.channels, words)}." if hint.channels else ""
    against = f" Contradicted by {_listed(hint.against, words)}." if hint.against else ""
    return f"{hint.group} (probability {hint.weight:.2f}): {hint.sentence.rstrip('.')}.{speaking}{against}"


def _listed(names: Sequence[str], words: Mapping[str, str]) -> str:
    return ", ".join(words.get(name, name) for name in names)


def shown_hints(found: Sequence[Hint]) -> list[Hint]:
    """Return the hints that are printed: the most probable ones, and a second cause."""
    return [hint for hint in found if hint.second or hint.weight >= LEAST_SHOWN][:MOST_SHOWN]


def hint_lines(case: LoadCaseExplanation, words: Mapping[str, str]) -> list[str]:
    """Return the hints of a load case, and which channels give none and why.

    Parameters
    ----------
    case
        The load case.
    words
        Its channels for people, by name.
    """
    if case.silence:
        return [no_hints(case.silence)]
    said = [hint_words(hint, words) for hint in shown_hints(case.hints)]
    if said and case.together:
        said.insert(0, f"explained together with {', '.join(case.together)}")
    if not said and case.rated:
        said = [NO_HINT]
    for name, reason in _NOT_ASKED.items():
        if listed := getattr(case, name):
            said.append(f"{', '.join(words.get(one, one) for one in listed)}: {reason}")
    return said or ["not rated"]


def no_hints(silence: str) -> str:
    """Say why there are no hints.

    Examples
    --------
    >>> no_hints("the model is within hardware scatter")
    'No hints: the model is within hardware scatter.'
    """
    return f"No hints: {silence}."


_NOT_ASKED: Final = {
    "waiting": HINTS_WAIT,
    "shifted": "not explained, because a shift in time alone recovers most of the loss",
    "within_scatter": "not explained, because the model is within hardware scatter; used as evidence",
    "minor": "not used, because the peak is below a tenth of the sensor's resultant (minor axis)",
}
"""What is said of channels that give no hints, in this order."""


def cluster_words(cluster: Cluster, words: Mapping[str, str], step_s: float) -> str:
    """List the channels of a cluster, each with its delay and sign relative to the first."""
    return "; ".join(
        f"{words.get(member.name, member.name)}{_relation(member, step_s)}" for member in cluster.members
    )


def _relation(member: Member, step_s: float) -> str:
    said = []
    if member.lag_samples:
        after = "later" if member.lag_samples > 0 else "earlier"
        said.append(f"{abs(member.lag_samples) * step_s * 1e3:.3g} ms {after}")
    if member.sign < 0:
        said.append("opposite sign")
    return f" ({', '.join(said)})" if said else ""
