"""The steps from an empty file to the form of today, one module each, never edited afterwards."""
