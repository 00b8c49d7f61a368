"""A simulated flight of the invented Whimbrel Four: JSBSim, a simple autopilot, and its gauges."""
