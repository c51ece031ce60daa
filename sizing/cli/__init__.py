"""The command line: one module for each command, which reads what was typed, calls the work and prints.

What a maker types comes in; a report and files go out.

May import: sizing.base, sizing.batch, sizing.corrections, sizing.lot, sizing.strand, sizing.piece,
sizing.piece.toml, sizing.stash, sizing.report.sentences, sizing.report.text, sizing.report.records,
sizing.report.html, sizing.web, vision.common, vision.image, vision.sheet, vision.marks, vision.reference.
"""
