"""The parts of a backtest: truths, folds, baselines and the verdict."""
