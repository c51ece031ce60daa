"""The printed scale sheets: their geometry, their drawing, and their tags found in a photo.

A photo comes in, tag corners to a few hundredths of a pixel and the photo's sharpness go out; the name
of a sheet comes in, a file to print goes out.

May import: vision.common, vision.image.
"""
