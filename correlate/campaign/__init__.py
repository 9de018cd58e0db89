"""Campaigns: the file that says what is compared with what, scoring, aggregation, comparison, gate."""

from correlate.campaign.aggregation import ReleaseScore, Score, aggregate
from correlate.campaign.block import Unpaired, Unrated
from correlate.campaign.comparison import Change, compare
from correlate.campaign.definition import Campaign, load_campaign
from correlate.campaign.gate import Check, gate
from correlate.campaign.pair_score import PairScore, score_pair
from correlate.campaign.pairs import CampaignPair, CampaignReader, campaign_pairs
from correlate.campaign.proposals import Proposal, propose
from correlate.campaign.record import PairRecord
from correlate.campaign.scoring import CampaignScores, score_campaign
from correlate.campaign.tables import ChannelPlan, LoadCase, Release

__all__ = [
    "Campaign",
    "CampaignPair",
    "CampaignReader",
    "CampaignScores",
    "Change",
    "ChannelPlan",
    "Check",
    "LoadCase",
    "PairRecord",
    "PairScore",
    "Proposal",
    "Release",
    "ReleaseScore",
    "Score",
    "Unpaired",
    "Unrated",
    "aggregate",
    "campaign_pairs",
    "compare",
    "gate",
    "load_campaign",
    "propose",
    "score_campaign",
    "score_pair",
]
