"""Pixels as pixels: opening and encoding photos, linear light, sampling between pixels, gradients.

A file or an array comes in, an array goes out; nothing here knows what a sheet or a bead is.

May import: vision.common.
"""
