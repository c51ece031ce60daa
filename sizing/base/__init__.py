"""What every decision needs: lengths as people type them, the closed loop, targets, files, errors.

Text and lengths come in, lengths in millimetres go out.

May import: vision.common.
"""
