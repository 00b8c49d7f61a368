"""What each command does; ``runner.cli`` reads the command line and calls one of these."""
