"""Which pieces of a top view hang on one string, in which order: the likeliest set of strings.

Fragments of strung parts and the probability of each kind for each cell (`seen`) come in; strings of pieces
go out. Steps: `pieces` (size, direction), `ends` (what leaves a piece besides other pieces), `links` (which
two pieces may follow each other), `likelihood` (log-odds of each way to pass a piece), `programme` (the best
answer to all of them at once), `strings` (order, clasp), `courses` (where they run), `hanging` (the
clasp of a loop and what hangs from it), `apart` (what belongs to no string).

May import: vision.common, vision.topview.
"""
