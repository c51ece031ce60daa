"""A card or a coin of known size on the empty sheet: its outline, and what it says of the printed scale.

A photo with its camera and the name of a thing come in; the sizes of the thing in the sheet's nominal
millimetres and their uncertainty go out. The ratio to its true size is the scale of the print.

May import: vision.common, vision.image, vision.sheet, vision.camera, vision.topview.
"""
