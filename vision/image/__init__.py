"""Pixels: opening and encoding photos, linear light, values between pixels, gradients.

A file or an array comes in; an array, or a file's bytes, goes out. Nothing here knows of sheets or beads.

May import: vision.common.
"""
