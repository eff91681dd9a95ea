"""What can be worked out at the bench: each sum with its keys, formula, source and limits."""
