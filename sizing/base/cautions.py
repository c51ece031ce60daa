"""What can hurt somebody, a calm line each; local rules come first."""

SMALL_PARTS = (
    "Small parts are a choking hazard for children under three: keep beads and findings out of their reach, "
    "and follow your local rules on toys and children's jewelry."
)
GIVES_WAY = (
    "A strand around a neck or a limb that catches should give way rather than hold: consider a clasp that "
    "opens under pull, and follow your local rules."
)
WIRE_ENDS = "Cut wire ends fly: hold both ends while you cut, wear eye protection, and tuck the ends away."
SKIN = (
    "Some metals irritate skin, and nickel, lead and cadmium in jewelry are limited by law in many places: "
    "ask your supplier what the findings are made of, and follow your local rules."
)

CAUTIONS = (SMALL_PARTS, GIVES_WAY, WIRE_ENDS, SKIN)
