"""Fields that every result begins with."""

from typing import Any

from sizing.report.records.field import Field, Fields

FORMAT = 2
"""Raised whenever a field changes its meaning or goes; a new field alone does not raise it."""


def head(kind: str) -> Fields[Any]:
    """Return the fields that a result begins with."""
    return (
        Field(
            name="kind",
            meaning="what this is: `strand`, `lot` or `plan`; of the stash book `stash`, `entry` or `ways`",
            take=lambda _: kind,
        ),
        Field(name="format", meaning="version of these fields", take=lambda _: FORMAT),
    )
