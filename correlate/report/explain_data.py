"""Where the rating is lost, as JSON: of a pair and of a release."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.campaign.costs import by_component, by_load_case
from correlate.diagnosis.accounting import largest_stretches
from correlate.evaluation.record import plain
from correlate.plots.explanation_words import CHANGES, finding_words, for_a_pair
from correlate.report.as_json import pair_object
from correlate.version import VERSION

if TYPE_CHECKING:
    from correlate.campaign import Campaign
    from correlate.campaign.costs import ChannelCost
    from correlate.campaign.explained_case import ChannelExplanation, LoadCaseExplanation
    from correlate.campaign.explanation import Explanation
    from correlate.campaign.pair_explanation import PairExplanation
    from correlate.diagnosis.accounting import LossAccount
    from correlate.diagnosis.what_if import WhatIf

MOST_STRETCHES = 3
"""Stretches of time that are listed of each account."""


def pair_explanation_json(found: PairExplanation) -> str:
    """Return the explanation of a pair as JSON text.

    Parameters
    ----------
    found
        The explanation.

    Returns
    -------
    str
        The rating under ``pair`` as `correlate pair --json` gives it; beside it ``account,
        model_is_zero, what_if, suspects, differences, hints_wait, hints, version``.
    """
    content = {
        "pair": pair_object(found.score),
        "account": _account(found.account, with_bins=True),
        "model_is_zero": found.model_is_zero,
        "what_if": None if found.model_is_zero else _what_if(found.what_if),
        "suspects": _plain([for_a_pair(suspect) for suspect in found.suspects]),
        "differences": _plain(found.differences),
        "hints_wait": found.hints_wait,
        "hints": [] if found.model_is_zero or found.hints_wait else _plain(found.hints),
        "version": VERSION,
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def explanation_json(campaign: Campaign, found: Explanation) -> str:
    """Return the explanation of a release as JSON text.

    Parameters
    ----------
    campaign
        The campaign.
    found
        The explanation.

    Returns
    -------
    str
        Keys ``campaign, file_sha256, version, release, measure, overall, by_load_case, by_component, costs,
        channels, unrated, unrated_load_cases, unrated_pairs, load_cases, held_out, held_out_costs``.
    """
    content = {
        "campaign": campaign.title,
        "file_sha256": campaign.sha256,
        "version": VERSION,
        "release": found.release,
        "measure": found.measure,
        "overall": found.overall,
        "by_load_case": by_load_case(found.costs),
        "by_component": by_component(found.costs),
        "costs": [_cost(one) for one in found.costs],
        "channels": [_channel(one) for one in found.channels],
        "unrated": [_channel(one) for one in found.unrated],
        "unrated_load_cases": list(found.unrated_load_cases),
        "unrated_pairs": _plain(found.gaps),
        "load_cases": [_load_case(one) for one in found.load_cases],
        "held_out": found.held_out,
        "held_out_costs": [_cost(one) for one in found.held_out_costs],
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _cost(cost: ChannelCost) -> dict[str, Any]:
    return {**_plain(cost), "mostly": cost.mostly}


def _channel(channel: ChannelExplanation) -> dict[str, Any]:
    return {
        "load_case": channel.cost.load_case,
        "channel": channel.cost.channel,
        "cost": channel.cost.cost,
        "finding": finding_words(channel),
        "repeat": channel.repeat,
        "hardware": _plain(channel.hardware),
        "hardware_cost": channel.hardware_cost,
        "account": None if channel.account is None else _account(channel.account, with_bins=False),
        "suspects": _plain(channel.suspects),
        "model_is_zero": channel.model_is_zero,
    }


def _load_case(case: LoadCaseExplanation) -> dict[str, Any]:
    return {
        "load_case": case.load_case,
        "cost": case.cost,
        "step_s": case.step_s,
        "clusters": _plain(case.clusters),
        "rated": case.rated,
        "hints": _plain(case.hints),
        "waiting": list(case.waiting),
    }


def _account(account: LossAccount, *, with_bins: bool) -> dict[str, Any]:
    content = {
        "total": account.total,
        "by_component": _plain(account.by_component),
        "clamped": list(account.clamped),
        "stretches": _plain(largest_stretches(account, MOST_STRETCHES)),
    }
    return {**content, "bins": _plain(account.bins())} if with_bins else content


def _what_if(found: WhatIf) -> dict[str, Any]:
    """Return the changes and the ratings they give, without the curves those were made from."""
    best = {name: getattr(found, name) for name in CHANGES}
    return {
        "unchanged": found.unchanged.overall,
        **{
            name: {
                "change": _plain(one.change),
                "overall": one.rating.overall,
                "gain": one.gain,
                "at_limit": list(one.at_limit),
            }
            for name, one in best.items()
        },
    }


def _plain(value: Any) -> Any:
    """Return results as values that JSON knows: dictionaries for dataclasses, lists for arrays."""
    if is_dataclass(value) and not isinstance(value, type):
        # Not asdict(), which copies what it does not know and stumbles over read-only mappings.
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if hasattr(value, "items"):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(entry) for entry in value]
    return plain(value)
