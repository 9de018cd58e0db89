"""The commands under ``correlate tune``, one file per command."""
