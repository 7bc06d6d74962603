"""Vietnamese: groups of three with a point; Django's own file names the mark but no grouping."""

DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "."
NUMBER_GROUPING = 3
