"""A keeper's files, read into tables without guessing."""
