"""The photo as seen from straight above, and the beads detected in it.

A `Scene` comes in, a top view with a map of bead likelihoods, and the region of cells of each bead, go
out.

May import: vision.common, vision.sheet, vision.camera, vision.networks.
"""
