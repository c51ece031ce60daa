"""Loose beads given to `strand`, a strand given to `lot`."""

from dataclasses import replace

import numpy as np

from tests.perturbed.case import Case, Way


def other_command(case: Case) -> Case:
    """Give the photo to the other command; a strand's beads may still be counted and sized by `lot`."""
    if case.command == "lot":
        return replace(case, command="strand", answerable=False)
    sizes = np.sort(case.sizes_mm, axis=1)[:, ::-1]
    return replace(case, command="lot", sizes_mm=sizes, length_mm=None)


OTHER_COMMAND: dict[str, Way] = {"other command": other_command}
