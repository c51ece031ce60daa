"""How a maker checks the size of a printed sheet: the same words on the sheet, in reports and in the help."""

PRINT_AT_FULL_SIZE = "Print at 100 % (actual size), not fitted to the page."
READ_RULER = (
    "Lay a ruler from mark to mark above the top row of tags, and give what it reads as the check length "
    "with every photo of that sheet, even where it is just what the sheet says."
)
