"""The photo as seen from straight above, and the beads detected in it.

A `Scene` comes in; a top view, a map of the probability that each cell shows a bead, and the cells of each
bead go out.

May import: vision.common, vision.sheet, vision.camera, vision.networks.
"""
