"""Numbers and words, to speech and from speech."""
