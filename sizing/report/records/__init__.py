"""Results as JSON and CSV: every field is declared once, with its meaning.

Measured and planned records come in, JSON, CSV and the README's table of fields go out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.stash, sizing.report.sentences,
vision.common.
"""
