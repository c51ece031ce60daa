"""Results as one HTML page to read, print or mail.

Records come in, the text of a page that loads nothing goes out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.report, vision.common,
vision.marks.
"""
