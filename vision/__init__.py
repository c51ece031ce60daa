"""From a photo to measured beads: sheet, camera, outlines, sizes, each with its doubt."""
