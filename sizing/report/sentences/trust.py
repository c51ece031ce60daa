"""How far to trust a report, in the words of metrology and its standards."""

from sizing.lot.conformity import GUARD_FACTOR
from sizing.piece.plan import Plan

TRUST = "How far to trust it"

_UNCERTAINTY = (
    "A length such as 234.6 ± 0.4 mm means: the true value lies within 0.4 mm of 234.6 mm 95 times in 100 "
    "(expanded uncertainty, k = 2, JCGM 100:2008)."
)
_SPREAD = "Spread is the standard deviation of the measured sizes, with n-1."
_CALIPER = (
    "Width and length of a loose bead are its smallest and largest caliper size seen from straight above "
    "(minimum and maximum Feret diameter, ISO 13322-1)."
)
_ROUNDNESS = "Round: width and length differ by less than 2 % of their mean; semi-round: by less than 5 %."
_INSIDE = (
    "The inside length goes around the largest cylinder that fits into the closed piece, as ISO 8653 "
    "measures rings."
)
_DECISION = (
    f"A bead is called within the limits, or outside, only by {GUARD_FACTOR} standard uncertainties or more "
    "(ISO 14253-1)."
)
_ADULTS = (
    "Shares of adults are from ANSUR II, a survey of soldiers of 2010 to 2012 (Natick TR-15/007); they are "
    "fitter than most."
)


def strand_trust() -> list[str]:
    """Return what stands behind the figures of a strand."""
    return [
        _UNCERTAINTY,
        "The strung length runs along the string, from the outer end of the first bead to that of the last.",
        _SPREAD,
        _INSIDE,
    ]


def lot_trust() -> list[str]:
    """Return what stands behind the figures of a sorted lot."""
    return [_UNCERTAINTY, _CALIPER, _SPREAD, _ROUNDNESS]


def check_trust() -> list[str]:
    """Return what stands behind the verdict on a label."""
    return [
        _UNCERTAINTY,
        _CALIPER,
        _SPREAD,
        _DECISION,
        "The share of the stock is an exact binomial interval at 95 % (Clopper and Pearson).",
    ]


def plan_trust(plan: Plan) -> list[str]:
    """Return what stands behind the figures of a plan."""
    measured = [_UNCERTAINTY] if plan.best.strung_u95_mm else ["Sizes that were typed are taken as exact."]
    adults = [_ADULTS] if plan.girths or plan.piece.sizes else []
    return [*measured, _INSIDE, *adults]
