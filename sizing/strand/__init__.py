"""Measured strands compared with their target: how many beads to add or remove.

`Strand`s and a `Target` come in, for each an `Advice` goes out, or for a closed one a `LoopFit`.

May import: sizing.base, sizing.lot, vision.common.
"""
