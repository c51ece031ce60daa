"""From measured beads to decisions: what to add, remove, sort, buy and cut.

Measurements by `vision` and what a maker typed come in; advice, tables, pages and plans go out.

May import: sizing.cli.
"""
