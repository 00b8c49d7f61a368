"""The crew protocol itself: no socket, no clock, no file, no randomness of its own."""
