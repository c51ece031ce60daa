"""What the reports say, sentence by sentence, for text, JSON and page alike.

Measured and planned records come in, sentences in plain words go out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.stash, vision.common.
"""
