"""Serves the page with workers that pretend to measure, and prints its address; a process of its own.

Run as `python -m tests.helpers.pretend_page BYTES`: no file may grow beyond so many, as on a full disk; 0 for
no limit.
"""

import functools
import resource
import sys

from sizing.web import server
from sizing.web.desk import open_desk
from sizing.web.measuring.limits import Limits
from tests.helpers.workers import pretend

LIMITS = Limits(workers=1, photo_s=60.0, waiting=20, sending=8, silence_s=1.0, arrival_s=4.0)


def main() -> None:
    """Serve until the process is told to end."""
    most_bytes = int(sys.argv[1])
    if most_bytes:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))  # setrlimit(2)
    server.open_desk = functools.partial(open_desk, work=pretend)
    server.usual_limits = lambda: LIMITS
    server.serve(
        port=None,
        phone=False,
        certificate=None,
        ready=lambda desk: print(desk.doors.urls[0], flush=True),
    )


if __name__ == "__main__":
    main()
