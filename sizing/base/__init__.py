"""What every decision rests on: units as people type them, the closed loop, targets, files, errors.

Texts and lengths come in, lengths in millimetres go out.

May import: vision.common.
"""
