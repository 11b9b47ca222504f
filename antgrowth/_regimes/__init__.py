"""Parts of the comparison of temperature regimes."""
