"""Measured records as texts that are equal only where every digit is: arrays in them have no equality."""

from collections.abc import Iterable

import numpy as np


def said(records: Iterable[object]) -> list[str]:
    """Return each record as a text with all digits of all its numbers."""
    with np.printoptions(threshold=10**9, floatmode="unique"):
        return [repr(each) for each in records]
