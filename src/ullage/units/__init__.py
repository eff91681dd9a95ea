"""What a number means: exact factors, the suffixes that names carry, and notes on a value."""
