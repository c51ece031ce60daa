"""Beads on a string: their order, boundaries and sizes, with uncertainties.

A `Scene` comes in, a `Strand` for each string goes out. `search` finds the strands and divides them into
beads (`axis`, `strip`, `sides`, `straightened`, `strand_map`, `boundaries`, `stoppers`), then `measure` sizes
them (`edges`, `width`, `row`, `length`, `reconciled`, `uncertainty`).

May import: vision.common, vision.image, vision.camera, vision.networks, vision.topview, vision.chains,
vision.checks.
"""
