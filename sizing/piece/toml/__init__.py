"""Reads and writes piece files.

The text of a piece file comes in and a `Piece` goes out, or the other way round.

May import: sizing.base, sizing.piece.
"""
