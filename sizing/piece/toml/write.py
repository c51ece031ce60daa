"""Writes a piece as the text of a piece file, so that it can be made again."""

import json
from collections.abc import Mapping

from sizing.base.target import TOUCHING
from sizing.base.typed_mm import TypedMm
from sizing.piece.parts import BeadPart, Finding, Wire, Work
from sizing.piece.piece import Piece
from sizing.piece.stringing import Layout
from sizing.piece.toml.read import VERSION


def piece_text(piece: Piece) -> str:
    """Return a piece as TOML that `read_piece` reads back: lengths as typed, else to a tenth of a micrometre.

    Examples
    --------
    >>> from sizing.piece.toml.read import read_piece
    >>> text = piece_text(Piece(target_mm={"wrist": 165.1}))
    >>> text.splitlines()[3:5]
    ['[target]', 'wrist = "165.1 mm"']
    >>> read_piece(text).target_mm
    {'wrist': 165.1}
    """
    target: dict[str, object] = {name: _length(length) for name, length in piece.target_mm.items()}
    tables: list[tuple[str, dict[str, object]]] = [
        ("", {"piece": VERSION, "name": piece.name, "spare": piece.spare, "sizes": piece.sizes}),
        ("[target]", target | {"ease": _length(piece.ease_mm), "step": _step(piece.step_mm)}),
        *(("[[bead]]", _bead(bead)) for bead in piece.beads),
        ("[layout]", _layout(piece.layout)),
        *(("[[finding]]", _finding(finding)) for finding in piece.findings or ()),
        ("[wire]", _wire(piece.wire)),
        ("[work]", _work(piece.work)),
    ]
    return "\n".join(_table(header, values) for header, values in tables)


def _table(header: str, values: Mapping[str, object]) -> str:
    """Write one table without the values that were not given."""
    # JSON escapes texts as TOML does, apart from the delete character, which it leaves as it is.
    lines = [
        f"{key} = {json.dumps(value, ensure_ascii=False)}".replace("\x7f", "\\u007f")
        for key, value in values.items()
        if value is not None and value != ""
    ]
    return "\n".join(([header] if header else []) + lines) + "\n"


def _length(value_mm: float | None) -> str | None:
    if isinstance(value_mm, TypedMm) and value_mm.typed:
        return value_mm.typed
    return None if value_mm is None else f"{round(value_mm, 4):.10g} mm"


def _step(step_mm: float | None) -> str | None:
    return TOUCHING if step_mm == 0 else _length(step_mm)


def _bead(bead: BeadPart) -> dict[str, object]:
    along, across = _length(bead.along_mm), _length(bead.across_mm)
    size = {"size": along} if along == across else {"along": along, "across": across}
    return {
        "name": bead.name,
        **size,
        "count": bead.count,
        "hole": _length(bead.hole_mm),
        "material": bead.material,
        "density": bead.density,
        "cost": bead.cost,
        "uncertainty": _length(bead.rel_u95 * bead.along_mm or None),
        "have": bead.have,
    }


def _layout(layout: Layout) -> dict[str, object]:
    return {
        "order": "graduated" if layout.graduated else "repeat",
        "symmetric": layout.symmetric,
        "whole": layout.whole,
    }


def _finding(finding: Finding) -> dict[str, object]:
    return {
        "kind": finding.kind.value,
        "name": finding.name,
        "length": _length(finding.length_mm),
        "count": finding.count,
        "thickness": _length(finding.thickness_mm),
        "bore": _length(finding.bore_mm),
        "cut": _length(finding.cut_mm),
        "link": _length(finding.link_mm),
        "cost": finding.cost,
        "mass": finding.mass_g,
    }


def _wire(wire: Wire) -> dict[str, object]:
    return {
        "awg": wire.gauge or None,
        "diameter": None if wire.gauge else _length(wire.diameter_mm),
        "tail": _length(wire.tail_mm),
        "loop": _length(wire.loop_mm),
        "back_through": wire.back_through,
        "cost_per_metre": wire.cost_per_metre,
    }


def _work(work: Work) -> dict[str, object]:
    return {
        "minutes": work.minutes,
        "rate": work.rate_per_hour,
        "margin": work.margin,
        "currency": work.currency,
    }
