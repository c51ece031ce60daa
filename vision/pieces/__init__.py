"""Which pieces of a top view are loose beads: each is looked at again, parts are joined, and all weighed.

A `Reading` comes in; beads and what else lies there go out, each with its probability. Steps in the order in
which a photo takes them: `things`, `wholes` (`merge`, `second_look`), `counting` (`likeness`).

May import: vision.common, vision.image, vision.camera, vision.networks, vision.topview.
"""
