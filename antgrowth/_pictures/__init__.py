"""The pictures' common dress, and the pictures that single answers draw."""
