"""A second reckoning: what the founder's pages say, against the rows, by own SQL and own arithmetic."""
