"""Measures photos in warm worker processes: a bounded number at once, each within limits of time and memory.

Bytes of a photo come in from a browser; measured records and a copy of the photo to show go out.

May import: sizing.base, sizing.batch, sizing.lot, sizing.stash, sizing.report.sentences, vision,
vision.common, vision.image, vision.lot.
"""
