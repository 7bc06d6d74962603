"""Spanish: a space between groups, because a point or a comma there means the decimals in another country."""

DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "\xa0"
NUMBER_GROUPING = 3
