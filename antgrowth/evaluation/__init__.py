"""How far to trust it: scores, backtests, diagnostics and alerts."""
