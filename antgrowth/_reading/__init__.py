"""Files and arguments that a keeper writes, read without guessing."""
