"""What all rooms share: the frozen records that pass between them, errors, flags and statistics.

Numbers come in, numbers and records go out; no pixel is looked at here.

May import: nothing of this project.
"""
