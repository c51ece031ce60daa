"""What stands first in a report: what to do in one sentence, what to know about it, the few large figures.

Measured records come in, a `Front` goes out, for a page that is sent and a page that is served alike.

May import: sizing.base, sizing.lot, sizing.strand, sizing.piece, sizing.report.sentences, vision.common.
"""
