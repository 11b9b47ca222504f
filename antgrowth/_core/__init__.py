"""The shared things that know nothing of ants: dates, words, reports, figures."""
