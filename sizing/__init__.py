"""From measured beads to decisions: what to add, remove, sort out, buy and cut.

Records of `vision` and what a maker typed come in, advice, tables, pages and plans go out.

May import: sizing.cli.
"""
