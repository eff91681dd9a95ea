"""Where old and new fluid go over time: recipes, the washout solver and its results."""
