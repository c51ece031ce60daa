"""The printed scale sheets: their geometry, how they are drawn, and their tags in a photo.

A photo comes in; the corners of its tags, to a few hundredths of a pixel, and its sharpness go out. The
name of a sheet comes in; a file to print goes out.

May import: vision.common, vision.image.
"""
