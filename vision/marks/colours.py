"""Colours of what is marked, on a photo of ours and on a page alike."""

Colour = tuple[int, int, int]

# Blue, vermillion and reddish purple of the eight colours that Okabe and Ito chose so that everyone can
# distinguish them ("Color Universal Design", 2008).
MEASURED: Colour = (0, 114, 178)
FLAGGED: Colour = (213, 94, 0)
# Grey is no colour of theirs: what it outlines is no part of a strand.
UNCOUNTED: Colour = (120, 120, 120)
BY_HAND: Colour = (204, 121, 167)
