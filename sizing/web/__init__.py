"""The page: everything in a browser, on this computer and on phones that were let in.

Requests of a browser come in, pages and answers go out.

May import: sizing.base, sizing.batch, sizing.corrections, sizing.lot, sizing.piece, sizing.piece.toml,
sizing.stash, sizing.strand, sizing.report.front, sizing.report.html, sizing.report.records,
sizing.report.sentences, sizing.report.text, sizing.web.measuring, sizing.web.reading, vision.common,
vision.sheet.
"""
