"""Two people, one checklist: the run's list of events kept equal on every machine of a crew."""
