"""The register of all ways to spoil a photo, by family."""

from tests.perturbed.bent import BENT
from tests.perturbed.case import Way
from tests.perturbed.commands import OTHER_COMMAND
from tests.perturbed.covers import COVERED
from tests.perturbed.framing import CROPPED, CUT_OFF
from tests.perturbed.lens import OTHER_LENS, STRETCHED
from tests.perturbed.sheets import FITTED_TO_PAGE, OTHER_SHEET
from tests.perturbed.softness import BLURRED, SMALL

FAMILIES: dict[str, dict[str, Way]] = {
    "as taken": {"as taken": lambda case: case},
    "other sheet": OTHER_SHEET,
    "fitted to page": FITTED_TO_PAGE,
    "cropped": CROPPED,
    "other lens": OTHER_LENS,
    "stretched": STRETCHED,
    "bent": BENT,
    "cut off": CUT_OFF,
    "small": SMALL,
    "blurred": BLURRED,
    "covered": COVERED,
    "other command": OTHER_COMMAND,
}
