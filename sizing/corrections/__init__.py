"""What a maker puts right about a measured photo: beads that are none, are missing, are one or two.

Measured strands or a lot, and a list of `Correction`s, come in; the corrected ones go out. The list is the
state: to undo a correction, take it off the list and correct the measured records once more.

May import: sizing.base, vision.checks, vision.common.
"""
