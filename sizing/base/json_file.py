"""Reads JSON whose numbers are within reason."""

import json
from pathlib import Path
from typing import Any

from sizing.base.files import read_text

_LARGEST = 1e6  # in mm a kilometre, in pixels wider than any photo; at half or double it decides as little
_MOST_DIGITS = 30  # of a whole number; Python takes long over many


def read_json(path: str | Path) -> Any:  # noqa: ANN401 - whatever it holds
    """Read a JSON file (RFC 8259, which has no NaN); its numbers lie between -1e6 and 1e6.

    Raises
    ------
    PieceError
        It cannot be read.
    ValueError, RecursionError
        It is not JSON, has a number out of reason, or is nested too deep.
    """
    return parse_json(read_text(path))


def parse_json(text: str) -> Any:  # noqa: ANN401 - whatever it holds
    """Read JSON that was read from somewhere else; as `read_json`.

    Raises
    ------
    ValueError, RecursionError

    Examples
    --------
    >>> parse_json('{"across_mm": 8.1}')
    {'across_mm': 8.1}
    """
    return json.loads(
        text, parse_constant=_refuse, parse_float=_within_reason, parse_int=_whole_within_reason
    )


def _refuse(text: str) -> float:
    raise ValueError(f"{text} is not a number of JSON")


def _within_reason(text: str) -> float:
    number = float(text)
    if not abs(number) <= _LARGEST:
        raise ValueError(f"{number} is out of reason")
    return number


def _whole_within_reason(text: str) -> int:
    if len(text) > _MOST_DIGITS:
        raise ValueError(f"a number of {len(text)} digits is out of reason")
    return int(_within_reason(text))
