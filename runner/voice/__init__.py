"""Speaking, hearing, audio devices, the end of an utterance, and the judge."""
