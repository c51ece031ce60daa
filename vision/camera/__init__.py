"""Where the camera stood, how it maps the world to pixels, and how well that is known.

Tag corners come in, a `Camera` with its covariance goes out; a `Scene` holds all that is known of one photo
before a bead is detected.

May import: vision.common, vision.sheet.
"""
