"""The commands under ``correlate tune``, one file a command."""
