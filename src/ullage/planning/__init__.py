"""What should we do? Pace, fluid, filter, warmth, level, and when it is due again."""
