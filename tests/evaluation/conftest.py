"""The small project of the campaign tests serves here too."""

from tests.campaign.conftest import project

__all__ = ["project"]
