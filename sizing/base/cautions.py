"""Safety notes for maker and wearer, one line each."""

SMALL_PARTS = (
    "Small parts are a choking hazard for children under three: keep beads and findings out of their reach, "
    "and follow your local rules on toys and children's jewelry."
)
BREAKAWAY = (
    "A strand on a neck, wrist or ankle that catches on something should come open: consider a clasp that "
    "opens under pull, and follow your local rules."
)
WIRE_ENDS = (
    "Cut ends of wire fly off: hold both ends while you cut, wear eye protection, and tuck the ends away."
)
METALS = (
    "Some metals irritate skin, and nickel, lead and cadmium in jewelry are limited by law in many places: "
    "ask your supplier what the findings are made of, and follow your local rules."
)

CAUTIONS = (SMALL_PARTS, BREAKAWAY, WIRE_ENDS, METALS)
