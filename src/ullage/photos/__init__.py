"""What does a picture hold? Taking photos in, upright and bounded."""
