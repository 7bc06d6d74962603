"""What `manage.py trial` tries on real processes, where it needs what the tests are made of."""
