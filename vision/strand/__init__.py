"""Beads on a string: their order, boundaries and sizes, with uncertainties.

A `Scene` comes in, a `Strand` goes out; steps in the order in which a photo takes them: `search`
(`axis`, `strip`, `sides`, `strand_map`, `boundaries`, `stoppers`, `period_mean`, `mirror`), then
`measure` (`edges`, `width`, `length`).

May import: vision.common, vision.image, vision.camera, vision.networks, vision.topview.
"""
