"""The terminal screens: ``full`` for looking at, ``plain`` for lines of text."""
