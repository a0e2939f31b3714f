"""An offline, hands-free job narrator and session summarizer for people who fix machines."""

__version__ = "0.1.0"
