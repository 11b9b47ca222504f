"""The parts of a food plan: constants, needs, servings, practice, and how they print."""
