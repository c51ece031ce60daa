"""What a maker typed on a page, read into records: about the sheet, the target, the label."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import get_args

from sizing.base.errors import SizingError, TargetError
from sizing.base.measured_sheets import reading_u_mm, remembered_sheets
from sizing.base.target import Target, parse_step
from sizing.base.units import TypedLength, read_length
from sizing.lot.handfuls import Handful
from sizing.lot.label import Label, parse_label
from sizing.lot.sorting import Method
from sizing.piece.fit import planned_loop
from sizing.piece.piece import TARGET_KEYS, Piece, Wish, target_from_piece, with_wish
from sizing.piece.toml.read import read_piece
from sizing.report.sentences.phrases import opening
from sizing.strand.planned import Planned
from vision.reference.objects import REFERENCES

FIELDS = {
    "goal": "Target",
    "length": "Length",
    "findings": "Clasp and findings",
    "ease": "How loose",
    "step": "Strands one around the other",
    "check_length": "Check length",
    "bed_height": "Height of the bed",
    "shape": "Shape",
    "label": "Label",
    "tolerance": "Allowed above and below",
    "method": "Sort by",
    "pick": "Pick",
    "amount": "How many, or how long",
    "thing": "What lies on the sheet",
}
"""Names of the fields of a page, and what a maker reads beside them."""
GOALS = {
    "": "No target",
    "strung": "Strung length",
    "finished": "Finished length",
    "wrist": "Wrist",
    "ankle": "Ankle",
    "neck": "Neck",
}
METHODS: dict[str, str] = {"usual": "Usual sizes", "pearl": "Pearl classes", "natural": "Their own groups"}
PICKS = {
    "": "Nothing",
    "pairs": "Matched pairs",
    "uniform": "The most uniform",
    "graduated": "A graduated run",
}
SHAPES = {"": "The photo decides", "round": "Round beads", "flat": "Flat pieces"}
THINGS = {name: opening(each.title) for name, each in REFERENCES.items()}
PLAN = "piece"
"""The field that holds a whole piece file."""
PIECE_FILE = "the piece file"
_LONGEST = 60  # letters in a field; at half a label as "6 1/2 x 4 1/4 mm" still fits

Typed = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picking:
    """What to pick from a lot; 0 for nothing."""

    pairs: int = 0
    uniform: int = 0
    graduated_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the maker wants of measured beads.

    Attributes
    ----------
    target : Target or None
    typed_mm : float or None
        The target's length as typed, whose unit stands first in all lengths.
    planned : Planned or None
        What a plan says of the finished piece, whose target it brings.
    label : Label or None
    method : str
        How to sort a lot.
    picking : Picking
    """

    target: Target | None = None
    typed_mm: float | None = None
    planned: Planned | None = None
    label: Label | None = None
    method: Method = "usual"
    picking: Picking = field(default_factory=Picking)


def tidy(values: Mapping[str, object]) -> dict[str, str]:
    """Return the fields among values of unknown origin, as short lines.

    Examples
    --------
    >>> tidy({"goal": " wrist ", "length": "6 1/2 in", "colour": "red", "ease": 7})
    {'goal': 'wrist', 'length': '6 1/2 in'}
    """
    texts = {
        name: value for name, value in values.items() if isinstance(name, str) and isinstance(value, str)
    }
    lines = {name: " ".join(texts[name].split())[:_LONGEST] for name in FIELDS if name in texts}
    return lines | ({PLAN: texts[PLAN]} if PLAN in texts else {})


def asked_for(typed: Typed, *, label: bool) -> Asked:
    """Read what is wanted.

    Parameters
    ----------
    label : bool, keyword-only
        Whether beads are compared with a label, which must be there then.

    Raises
    ------
    SizingError
        Something typed cannot be read, or contradicts itself.
    """
    piece = _planned_piece(typed[PLAN]) if typed.get(PLAN) else wished_piece(typed)
    target = target_from_piece(piece)
    method = typed.get("method", "usual")
    return Asked(
        target=target,
        typed_mm=next(iter(piece.target_mm.values()), None),
        planned=planned_loop(piece, target) if target else None,
        label=_label(typed) if label else None,
        method=next((known for known in get_args(Method) if known == method), "usual"),
        picking=_picking(typed),
    )


def _planned_piece(text: str) -> Piece:
    piece = read_plan(text)
    if not piece.beads or not piece.target_mm:
        raise SizingError(f"{PIECE_FILE} has no target or no beads: plan the piece, then compare with it")
    return piece


def read_plan(text: str) -> Piece:
    """Return the piece of a piece file that a page sent.

    Raises
    ------
    PieceError
    """
    return read_piece(text, name=PIECE_FILE)


def wished_piece(typed: Typed, piece: Piece | None = None) -> Piece:
    """Return a piece, if not given one of which nothing is known, with the target that was typed, if any.

    Raises
    ------
    SizingError
    """
    piece = piece or Piece()
    goal = typed.get("goal", "")
    if goal not in TARGET_KEYS:
        return piece
    length, findings = _length(typed, "length"), _length(typed, "findings", allow_zero=True)
    if length is None:
        raise TargetError(f"{GOALS[goal]} has no length: type it with its unit, as 7 in or 18 cm")
    ease = _length(typed, "ease", allow_zero=True) if goal not in {"strung", "finished"} else None
    wish = Wish(
        target_mm={goal: length.value_mm},
        ease_mm=ease.value_mm if ease else None,
        findings_mm=findings.value_mm if findings else None,
        step_mm=_step(typed),
    )
    return with_wish(piece, wish)


def handful_of(typed: Typed) -> Handful:
    """Return what the maker says about the sheet of a photo, which gets its path and name later.

    Raises
    ------
    SizingError
    """
    check, bed = _length(typed, "check_length"), _length(typed, "bed_height", allow_zero=True)
    return Handful(
        path=Path(),
        name="",
        check_length_mm=check.value_mm if check else None,
        check_length_u_mm=reading_u_mm(check.resolution_mm) if check else 0.0,
        bed_height_mm=bed.value_mm if bed else 0.0,
        flat={"flat": True, "round": False}.get(typed.get("shape", "")),
        remembered={} if check else remembered_sheets(),
    )


def thing_of(typed: Typed) -> str:
    """Return the name of what lies on an empty sheet: a card where nothing was said."""
    thing = typed.get("thing", "")
    return thing if thing in THINGS else next(iter(THINGS))


def _label(typed: Typed) -> Label:
    tolerance = _length(typed, "tolerance", allow_zero=True)
    if not typed.get("label"):
        raise SizingError("type what the label says, as 8mm, 7.0-7.5mm, 6x4mm or 11/0")
    return parse_label(typed["label"], tolerance_mm=tolerance.value_mm if tolerance else None)


def _picking(typed: Typed) -> Picking:
    pick, amount = typed.get("pick", ""), typed.get("amount", "")
    if pick == "graduated":
        length = _length(typed, "amount")
        return Picking(graduated_mm=length.value_mm) if length else Picking()
    if pick not in PICKS or not pick or not amount:
        return Picking()
    if not amount.isdecimal() or not 0 < int(amount) < 1000:
        raise SizingError(f"{FIELDS['amount']}: {amount} is no number of beads: type one as 12")
    return Picking(pairs=int(amount)) if pick == "pairs" else Picking(uniform=int(amount))


def _step(typed: Typed) -> float | None:
    """Read how much longer each strand is than the one inside it; None where nothing was typed."""
    try:
        return parse_step(typed["step"]) if typed.get("step") else None
    except ValueError as error:
        raise SizingError(f"{FIELDS['step']}: {error}") from error


def _length(typed: Typed, name: str, *, allow_zero: bool = False) -> TypedLength | None:
    """Read a length; None where nothing was typed."""
    text = typed.get(name, "")
    try:
        return read_length(text, allow_zero=allow_zero) if text else None
    except ValueError as error:
        raise SizingError(f"{FIELDS[name]}: {error}") from error
