"""The parts of fitting a rate curve to a table."""
