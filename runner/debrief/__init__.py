"""Looking back: what a run's events say, worked out by replaying them, told and drawn."""
