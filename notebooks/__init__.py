"""The notebooks a keeper starts from."""
