"""Statistics of repairable systems and of counts: pure functions, published formulas."""
