"""Arabic with the digits of scales and gauges (0-9), hence also with their point and comma, as browsers write it."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
