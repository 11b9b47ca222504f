"""Words, phrases and reports: how results print."""
