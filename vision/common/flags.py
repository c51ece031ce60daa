"""The one register of flags: short words that mark a bead, strand or lot to be checked."""

CUT_OFF = "cut-off"
WEAK_EDGE = "weak-edge"
COVERED = "covered"
IRREGULAR = "irregular"
ODD_SIZE = "odd-size"
FAR_FROM_SHEET = "far-from-sheet"
HEIGHT_ASSUMED = "height-assumed"
UNSURE_SPLIT = "unsure-split"
UNSURE_BEAD = "unsure-bead"
UNMEASURED = "unmeasured"
UNSURE_COUNT = "unsure-count"
IN_A_ROW = "in-a-row"
CORRECTED = "corrected"
CONTRADICTED = "contradicted"

COUNT_UNSURE = frozenset({UNSURE_SPLIT, UNSURE_COUNT, CUT_OFF})
"""With one of these the number of beads is not certain."""

DESCRIPTIONS: dict[str, str] = {
    CUT_OFF: "it runs over the edge of the photo, under a tag, or into glare",
    WEAK_EDGE: "too little of its outline stands out clearly from the bed",
    COVERED: "a neighbour or a finding hides part of it",
    IRREGULAR: "its outline is not that of a regular solid; the size is that of its widest points",
    ODD_SIZE: "its size differs from the other beads of the strand by more than the uncertainty",
    FAR_FROM_SHEET: "it lies far outside the tags, where the scale is extrapolated",
    HEIGHT_ASSUMED: "how high its widest points stand above the sheet is assumed, not measured",
    UNSURE_SPLIT: "it is not certain where this bead ends and the next begins",
    UNSURE_BEAD: "it may be no bead: it looks little like one, or nothing else is of its size",
    UNMEASURED: "its size could not be measured reliably",
    UNSURE_COUNT: "something poorly visible or separated may be a bead too many or too few: count by eye",
    IN_A_ROW: "loose beads that lie one after the other as on a string: if they are strung, measure a strand",
    CORRECTED: "put right by hand; its size is estimated, not measured",
    CONTRADICTED: "a caliper was read on it, and the photo shows another size: one of the two is wrong",
}
