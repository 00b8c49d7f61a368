"""Practice: drills, and when each item comes back. Knows of no sound and no screen."""
