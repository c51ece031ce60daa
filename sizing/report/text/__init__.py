"""Reports as text for the terminal, one module a command.

Measured and planned records come in, a text that ends with a line end goes out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.stash, sizing.report.sentences,
vision.common.
"""
