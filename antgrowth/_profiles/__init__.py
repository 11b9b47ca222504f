"""The form of a species profile, its limits, and how it shows itself."""
