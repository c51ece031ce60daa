"""What all rooms share: the frozen records that pass between them, errors, flags and statistics.

Numbers come in, numbers and records go out; nothing here works on pixels.

May import: nothing of this project.
"""
