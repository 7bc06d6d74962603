"""Chinese: groups of three, as on scales and bills; Django's own file groups by four and shows no mark."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
