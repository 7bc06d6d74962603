"""What `manage.py bench` measures: ratios to a floor in the same run, never seconds against seconds of another day."""
