"""Which girths a closed piece fits, and what share of adults have them."""

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
        From loose on the extender's first link to snug on its last.
    shares : tuple of (str, float)
        Share of adult women and of adult men in that range, 0 to 1.
    """

    body: str
    low_mm: float
    high_mm: float
    shares: tuple[tuple[str, float], ...]


def girth_range(fit: Fit, target: Target) -> GirthRange | None:
    """Return the girths a piece fits on the target's body, or on the first it may be meant for.

    None where no adult wrist, ankle or neck is near.
    """
    for body in [target.body] if target.body else BODIES:
        snug_mm, _, loose_mm = EASE_MM[body]
        low_mm = max(fit.inner_girth_mm - max(loose_mm, target.ease_mm), 0.0)
        high_mm = fit.inner_girth_longest_mm - snug_mm
        usual = [girth_at(body, sex, percent) for sex in SEXES for percent in PERCENTS]
        if target.body or (low_mm <= max(usual) and high_mm >= min(usual)):
            shares = tuple((sex, share_between(body, sex, low_mm, high_mm)) for sex in SEXES)
            return GirthRange(body=body, low_mm=low_mm, high_mm=high_mm, shares=shares)
    return None
