"""The channel book: what a campaign file says once is written out for every load case, across its files."""

from correlate.evaluation.book.expansion import Expansion, expand
from correlate.evaluation.book.keys import CampaignBook
from correlate.evaluation.book.usual import usual_settings

__all__ = ["CampaignBook", "Expansion", "expand", "usual_settings"]
