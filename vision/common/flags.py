"""The one register of flags: short words a bead, a strand or a lot carries where its size is doubtful."""

CUT_OFF = "cut-off"
WEAK_EDGE = "weak-edge"
COVERED = "covered"
IRREGULAR = "irregular"
ODD_SIZE = "odd-size"
FAR_FROM_SHEET = "far-from-sheet"
HEIGHT_ASSUMED = "height-assumed"
UNSURE_SPLIT = "unsure-split"
UNMEASURED = "unmeasured"
UNSURE_COUNT = "unsure-count"

DESCRIPTIONS: dict[str, str] = {
    CUT_OFF: "the bead runs over the edge of the photo",
    WEAK_EDGE: "its outline was seen on too little of its perimeter, or with too little contrast",
    COVERED: "a neighbour or a finding hides part of it",
    IRREGULAR: "its outline is no regular solid; the size is that of its widest points",
    ODD_SIZE: "it differs from the other beads of the strand by more than the doubt",
    FAR_FROM_SHEET: "it lies far outside the tags, where the scale is extrapolated",
    HEIGHT_ASSUMED: "how high its widest points stand above the sheet is assumed, not seen",
    UNSURE_SPLIT: "where this bead ends and the next begins is not certain",
    UNMEASURED: "no trustworthy size could be measured",
    UNSURE_COUNT: "something hardly seen or hardly parted may be a bead too many or too few: count by eye",
}
