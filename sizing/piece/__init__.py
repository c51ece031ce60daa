"""Plans a piece of jewelry: how many beads, what to cut and buy, what it costs, whom it fits, other sizes.

A `Piece` comes in, from a piece file or from options, and a `Plan` goes out.

May import: sizing.base, sizing.lot, sizing.strand, vision.common.
"""
