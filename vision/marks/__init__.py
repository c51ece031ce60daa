"""Marks on a copy of the photo: outlines, numbers, the dimension line, the legend.

A photo and a measured `Strand` or `Lot` come in, a marked picture goes out.

May import: vision.common.
"""
