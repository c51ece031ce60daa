"""The wrists, ankles or necks that a closed piece fits, and the share of adults that have them."""

from dataclasses import dataclass

from sizing.base.target import EASE_MM, Target
from sizing.piece.anthropometry import BODIES, PERCENTS, SEXES, girth_at, share_between
from sizing.piece.fit import Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class GirthRange:
    """The girths that a piece fits.

    Attributes
    ----------
    body : str
        `wrist`, `ankle` or `neck`.
    low_mm, high_mm : float
        The girth on which the piece is loose on the extender's first link, and the one on which it is
        snug on the last.
    shares : tuple of (str, float)
        Share of adult women and of adult men in that range, 0 to 1.
    """

    body: str
    low_mm: float
    high_mm: float
    shares: tuple[tuple[str, float], ...]


def girth_range(fit: Fit, target: Target) -> GirthRange | None:
    """Return the girths that a piece fits, on the body that the target names.

    If it names none, the first of wrist, ankle and neck is taken that some adult of the survey has; if
    there is none, None is returned.
    """
    if target.body:
        return _range(fit, target, body=target.body)
    ranges = (_range(fit, target, body=body) for body in BODIES)
    return next((girths for girths in ranges if _somebody_has(girths)), None)


def _range(fit: Fit, target: Target, *, body: str) -> GirthRange:
    snug_mm, _, loose_mm = EASE_MM[body]
    low_mm = max(fit.inner_girth_mm - max(loose_mm, target.ease_mm), 0.0)
    high_mm = fit.inner_girth_longest_mm - snug_mm
    shares = tuple((sex, share_between(body, sex, low_mm=low_mm, high_mm=high_mm)) for sex in SEXES)
    return GirthRange(body=body, low_mm=low_mm, high_mm=high_mm, shares=shares)


def _somebody_has(girths: GirthRange) -> bool:
    """Return whether a range meets the girths between the survey's outer percentiles."""
    usual = [girth_at(girths.body, sex, percent=percent) for sex in SEXES for percent in PERCENTS]
    return girths.low_mm <= max(usual) and girths.high_mm >= min(usual)
