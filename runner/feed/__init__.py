"""Readings from a simulator: received, decoded, named, put in order, and passed on."""
