"""The stash book: measured beads that are kept, counted, found again, and what can be made of them.

The JSON of a measurement and what a maker knows of the beads come in; entries, matches, ways to make a
piece and a file with everything go out.

May import: sizing.base, sizing.lot, sizing.piece, vision.common, vision.image.
"""
