"""Demo colonies, species profiles and published tables; a README stands beside each."""
