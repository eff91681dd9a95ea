"""What a liquid is and how it behaves, one subject per module."""
