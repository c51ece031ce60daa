"""What may be wrong about a measured photo as a whole, and what it would then be.

How sure each bead is, where it lies and how large it shows comes in; doubts about the count, what cuts a
strand off, and errors of too coarse a photo go out.

May import: vision.common, vision.camera.
"""
