"""A piece as its maker describes it, planned whole: beads, findings, cuts, cost, size run.

A `Piece`, from a file or from options, comes in, a `Plan` goes out.

May import: sizing.base, sizing.lot, sizing.strand, vision.common.
"""
