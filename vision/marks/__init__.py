"""Marks on a copy of the photo: outlines, numbers, the dimension line, the legend.

A photo and its measured beads come in; a marked picture goes out.

May import: vision.common.
"""
