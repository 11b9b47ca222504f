"""Temperature and humidity of a nest: records, plans, rests, and their limits."""
