"""Results as text, JSON and CSV.

Records come in, texts and tables go out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, vision.common.
"""
