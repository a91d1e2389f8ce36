"""Published formulas, numpy only."""
