"""Shows in a browser what ``correlate`` computed; computes nothing itself."""
