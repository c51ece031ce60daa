"""From one photo of a printed scale sheet to measured beads, in millimetres.

`vision.measure` is the front: a `Photo` and what the maker knows about the sheet come in; a `Strand` or a
`Lot` goes out. Nothing here knows what the beads are for.

May import: vision.common, vision.sheet, vision.camera, vision.checks, vision.strand, vision.lot,
vision.reference.
"""
