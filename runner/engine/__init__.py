"""The pure heart: events in, state and effects out."""
