"""The trained networks and the one module that runs them.

A picture with its channels comes in; a map of logits, or a few estimated numbers, goes out.

May import: nothing of this project.
"""
