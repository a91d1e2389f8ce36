"""An invented fleet with its own physics; imports nothing of the other packages."""
