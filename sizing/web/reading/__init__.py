"""What a page says and shows of measured beads, for what the maker wants of them.

Measured records and what was typed come in; advice, cards of beads and marks on photos go out. Nothing is
measured here, so that a changed target is answered at once.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.piece.toml, sizing.corrections,
sizing.report.front, sizing.report.records, sizing.report.sentences, sizing.report.text, vision.common,
vision.marks, vision.reference.
"""
