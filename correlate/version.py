"""The one place the version is written."""

VERSION = "0.1.0"
