"""How our own files are read and written: circuits, recipes, evidence and results."""
