"""What a temperature is made of: readings, plans, and how they are put together."""
