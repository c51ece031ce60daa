"""How a maker checks the size of a printed sheet: the same words on the sheet, in reports and in the help."""

PRINT_AT_FULL_SIZE = "Print at 100 % (actual size), not fitted to the page."
GIVE_READING = "Give what the ruler reads as the check length with every photo of the sheet"
READ_RULER = (
    f"Lay a ruler from mark to mark above the top row of tags. {GIVE_READING}, even where it is just what "
    "the sheet says."
)
