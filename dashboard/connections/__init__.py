"""The web server: how many connections it keeps, how long it waits for each, and how much it receives."""

from dashboard.connections.limits import ConnectionLimits, Reception
from dashboard.connections.process import prepare_for_threads
from dashboard.connections.server import LimitedServer, limited_server

__all__ = ["ConnectionLimits", "LimitedServer", "Reception", "limited_server", "prepare_for_threads"]
