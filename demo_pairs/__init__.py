"""The invented laboratory and the invented solver of every example: data only, no part of the tool."""
