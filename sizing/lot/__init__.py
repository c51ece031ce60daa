"""Loose beads sorted by size, counted and picked from, and a delivery checked against its label.

A measured `Lot` comes in, a `SortedLot`, `Picks` or a `Conformity` goes out.

May import: sizing.base, vision.common.
"""
