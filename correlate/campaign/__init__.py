"""Campaigns: the file that says what is compared with what, scoring, aggregation, comparison, gate."""

from correlate.campaign.aggregation import ReleaseScore, Score, aggregate
from correlate.campaign.ceilings import ChannelCeiling, campaign_ceilings, ceiling_scores
from correlate.campaign.comparison import Change, ReleaseLine, ReleaseTable, compare, compare_releases
from correlate.campaign.decision import Decision, Objection, RatedPlace, decide
from correlate.campaign.gate import Check, gate
from correlate.campaign.matrix import MatrixCell, ReleaseMatrix, release_matrix
from correlate.campaign.partners import Proposal
from correlate.campaign.proposals import propose
from correlate.campaign.scoreboard import (
    BoardLine,
    Scoreboard,
    TrendPoint,
    release_before,
    release_scores,
    scoreboard,
)
from correlate.campaign.scoring import CampaignScores, score_campaign
from correlate.evaluation import (
    Campaign,
    CampaignPair,
    CampaignReader,
    ChannelPlan,
    LoadCase,
    PairRecord,
    PairScore,
    Release,
    Unpaired,
    Unrated,
    campaign_pairs,
    load_campaign,
    score_pair,
)

__all__ = [
    "BoardLine",
    "Campaign",
    "CampaignPair",
    "CampaignReader",
    "CampaignScores",
    "Change",
    "ChannelCeiling",
    "ChannelPlan",
    "Check",
    "Decision",
    "LoadCase",
    "MatrixCell",
    "Objection",
    "PairRecord",
    "PairScore",
    "Proposal",
    "RatedPlace",
    "Release",
    "ReleaseLine",
    "ReleaseMatrix",
    "ReleaseScore",
    "ReleaseTable",
    "Score",
    "Scoreboard",
    "TrendPoint",
    "Unpaired",
    "Unrated",
    "aggregate",
    "campaign_ceilings",
    "campaign_pairs",
    "ceiling_scores",
    "compare",
    "compare_releases",
    "decide",
    "gate",
    "load_campaign",
    "propose",
    "release_before",
    "release_matrix",
    "release_scores",
    "score_campaign",
    "score_pair",
    "scoreboard",
]
