"""Dates as they are kept."""

from datetime import datetime


def today() -> str:
    """Return the date of today (ISO 8601)."""
    return datetime.now().astimezone().date().isoformat()
