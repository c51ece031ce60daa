"""What an answer is worth: right, wrong but said to be unsure, refused, or wrong and silent."""

import json
import math
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.perturbed.case import Case

KINDS = ("right", "flagged", "refused", "silent", "broken")
_DOUBT = {"unsure-count", "unsure-split", "cut-off", "in-a-row"}
"""The last sends the maker to the other command."""
_MOST_OUTSIDE = 0.15
"""Share of sizes that may lie outside their stated uncertainty, which holds 95 of 100."""
_NEAR = 1 / 3
"""Of a bead's size: a bead found so far from a true centre is that bead."""
_LONGEST_S = 180


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One of `KINDS`, and what is wrong."""

    kind: str
    why: str = ""


def judged(case: Case) -> Verdict:
    """Run the program on a case and judge its answer."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{case.name}.jpg"
        path.write_bytes(case.jpeg)
        call = [sys.executable, "-m", "sizing", case.command, str(path), *case.words]
        # Sheets that somebody has measured on this computer are not used.
        env = os.environ | {"XDG_CONFIG_HOME": folder, "OPENBLAS_NUM_THREADS": "1"}
        try:
            done = subprocess.run(
                call, capture_output=True, text=True, env=env, timeout=_LONGEST_S, check=False
            )
        except subprocess.TimeoutExpired:
            return Verdict(kind="broken", why=f"no end after {_LONGEST_S} s")
    if done.returncode in {2, 3}:
        return Verdict(kind="refused", why=done.stderr.strip())
    if done.returncode != 0:
        return Verdict(kind="broken", why=f"exit {done.returncode}: {done.stderr.strip()[-200:]}")
    answer = json.loads(done.stdout)
    wrong = wrongs(case, answer)
    if not wrong:
        return Verdict(kind="right")
    says_unsure = bool(doubts(answer)) or "not certain" in (done.stdout + done.stderr).lower()
    return Verdict(kind="flagged" if says_unsure else "silent", why="; ".join(wrong))


def doubts(answer: dict[str, Any]) -> set[str]:
    """Return the flags of the whole strand or lot that say that it is not certain."""
    parts = [answer.get("strand"), answer.get("lot"), *(answer.get("strands") or [])]
    return _DOUBT & {flag for part in parts for flag in (part or {}).get("flags", [])}


def wrongs(case: Case, answer: dict[str, Any]) -> list[str]:
    """Return what is wrong with an answer."""
    if not case.answerable:
        return ["no answer can be certain"]
    beads = answer["beads"]
    pairs = _pairs(case, beads)
    wrong = []
    if not len(beads) == len(case.px) == len(pairs):
        wrong.append(f"{len(beads)} beads, {len(pairs)} of {len(case.px)} found")
    length = (answer.get("strand") or {}).get("length_mm")
    if case.length_mm is not None and length is not None:
        off, u95 = length - case.length_mm, answer["strand"]["length_u95_mm"] or math.inf
        if abs(off) > u95:
            wrong.append(f"length off by {off:+.2f} mm, stated {u95:.2f}")
    keys = ("across_mm", "along_mm") if case.command == "strand" else ("max_feret_mm", "min_feret_mm")
    ratios = [
        (beads[j][key] - case.sizes_mm[i, k]) / beads[j][key.replace("_mm", "_u95_mm")]
        for i, j in pairs
        for k, key in enumerate(keys)
        if beads[j].get(key) is not None
    ]
    outside = float(np.mean(np.abs(ratios) > 1)) if ratios else 0.0
    if outside > _MOST_OUTSIDE:
        wrong.append(f"{outside:.0%} of sizes outside, median {np.median(ratios):+.1f} of what is stated")
    return wrong


def _pairs(case: Case, beads: list[dict[str, Any]]) -> list[tuple[int, int]]:
    """Return true and measured beads (i, j) that belong together, the nearest first."""
    reach = _NEAR * case.sizes_mm.max(axis=1) * case.px_per_mm
    links = sorted(
        (math.dist(centre, bead["px"]) / reach[i], i, j)
        for i, centre in enumerate(case.px)
        for j, bead in enumerate(beads)
    )
    pairs: dict[int, int] = {}
    for away, i, j in links:
        if away <= 1 and i not in pairs and j not in pairs.values():
            pairs[i] = j
    return list(pairs.items())
