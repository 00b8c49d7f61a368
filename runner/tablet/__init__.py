"""The running list in a browser: a second screen on a tablet or a telephone."""
