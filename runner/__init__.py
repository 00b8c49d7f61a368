"""Runner: a voice-and-terminal challenge-response checklist runner for simulated flight."""

__version__ = "0.1.0"
