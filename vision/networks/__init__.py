"""The taught networks and the one module that runs them.

Cells with their channels come in, logits or estimates go out.

May import: nothing of this project.
"""
