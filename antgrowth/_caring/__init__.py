"""Parts of care plans: triggers, checks, seasons, nests, windows outdoors, calendars, pages."""
