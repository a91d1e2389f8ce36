"""One week of one pump's samples becomes its record."""
