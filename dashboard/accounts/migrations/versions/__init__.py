"""The migrations, oldest first by name."""
