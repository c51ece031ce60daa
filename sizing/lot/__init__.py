"""Loose beads sorted: classes, tallies, picks, and a delivery judged against its label.

A measured `Lot` comes in, a `SortedLot`, `Picks` or a `Conformity` goes out.

May import: sizing.base, vision, vision.common, vision.image.
"""
