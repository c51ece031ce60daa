"""Photos to learn from, drawn by a path tracer in photographed light, and what each of their cells shows.

`python -m tests.rendering OUT_DIR --assets DIR --count 2000` needs Mitsuba 3 and a GPU; the tests need
neither. DIR holds `light/*.exr` (photographed light, half of it from above) and `surface/*.jpg` (photographed
surfaces).
"""
