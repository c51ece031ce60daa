"""Loose beads: the outline of each and its caliper sizes, with uncertainties.

A `Scene` comes in, a `Lot` goes out; steps in the order in which a photo takes them: `merge`, `contour`
(`contour_path`, `edge_model`), `fourier_ellipse`, `feret`, `body_shape`, `close_up`, `uncertainty`.

May import: vision.common, vision.image, vision.camera, vision.networks, vision.topview.
"""
