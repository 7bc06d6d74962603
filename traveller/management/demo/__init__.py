"""The demo: some weeks of an invented lantern maker, told through the same actions as real news."""
