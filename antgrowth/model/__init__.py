"""The growth law: arrays in, arrays out, vectorised over draws."""
