"""What may be wrong about a measured photo as a whole, and what it would then be.

How sure each piece of a strand is, and where it lies, comes in; doubts about the count, and what cuts the
strand off, go out.

May import: vision.common, vision.camera.
"""
