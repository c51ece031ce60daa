"""What workers do in tests instead of measuring; other processes import it by name."""

import os
import signal
import time
from dataclasses import replace

import numpy as np

from sizing.base.measured_sheets import MeasuredSheet
from sizing.lot.handfuls import Handful
from sizing.web.measuring.work import Order, Outcome, Shown
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_loop, make_strand
from vision.common.errors import NoBeadsError
from vision.image.photo import encode_image

JPEG = bytes.fromhex("ffd8ffe000104a4649460001") + bytes(20)
"""The head of a photo that is sent."""
SHOWN = encode_image(np.full((30, 40, 3), 200, np.uint8), ".jpg")
"""What a page shows of it."""


SHEET = MeasuredSheet(
    sheet_name="mat-a4", check_length_mm=272.4, u_mm=0.2, measured_with="card", date="2026-03-14"
)
"""What an empty sheet measures."""


def where(order: Order) -> Outcome:
    """Say which process this is, if it got the photo itself; it takes long enough for two to do it."""
    time.sleep(1.0)
    assert order.content.startswith(JPEG)
    return replace(outcome(order.handful, loose=False), said=(str(os.getpid()),))


def pretend(order: Order) -> Outcome:
    """Do what stands behind the head of a photo: hang, die, fill the memory, refuse; else pretend.

    `discs` cannot be measured as rounds.
    """
    asked = (order.content or order.handful.path.read_bytes())[len(JPEG) :].decode()
    if asked == "hang":
        time.sleep(600)
    if asked == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if asked == "fill":
        bytearray(1 << 40)
    if asked == "empty":
        raise NoBeadsError(f"{order.handful.name}: no bead is seen: lay some on the sheet")
    if asked == "slow":
        time.sleep(0.3)
    if order.what == "sheet":
        shown = Shown(name="", size_px=(40, 30), jpeg=SHOWN, small=SHOWN)
        return Outcome(shown=shown, sheet=SHEET, said=(order.thing,))
    made = outcome(order.handful, loose=order.what == "loose")
    if asked == "discs" and made.lot:
        if order.handful.flat is False:
            raise NoBeadsError(f"{order.handful.name}: no round bead is seen")
        return replace(made, lot=replace(made.lot, flat=True))
    return replace(made, strands=(make_loop([8.0] * 22, clasp_mm=14.0),)) if asked == "loop" else made


def outcome(handful: Handful, *, loose: bool) -> Outcome:
    """Return 30 strung beads of 6 mm, or three loose ones."""
    shown = Shown(name=handful.name, size_px=(4000, 3000), jpeg=SHOWN, small=SHOWN)
    if not loose:
        return Outcome(shown=shown, strands=(make_strand([6.0] * 30, flags={4: ("weak-edge",)}),))
    lot = lot_of([6.0, 6.02, 8.0])
    beads = tuple(replace(bead, photo=handful.name) for bead in lot.beads)
    conditions = tuple(replace(each, photo=handful.name) for each in lot.conditions)
    return Outcome(shown=shown, lot=replace(lot, beads=beads, conditions=conditions))
