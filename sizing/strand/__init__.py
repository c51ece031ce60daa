"""A measured strand compared with its target: how many beads to add or remove.

A `Strand` and a `Target` come in, an `Advice` goes out.

May import: sizing.base, sizing.lot, vision.common.
"""
