"""One module per fault kind; each judges a pump's week from its record alone."""
