"""Results as one HTML page to read, print or mail.

Measured and planned records come in, the text of a page that loads no other file goes out.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.report.front,
sizing.report.sentences, vision.common, vision.marks.
"""
