"""`strandgauge stash`: keeps measured beads, finds them again, counts them, and says what they make.

What a maker types comes in; what stands in the stash book goes out, changed or not.

May import: sizing.base, sizing.cli, sizing.piece, sizing.stash, sizing.report.records, sizing.report.text,
sizing.report.sentences, vision.image.
"""
