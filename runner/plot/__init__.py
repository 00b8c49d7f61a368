"""Pictures of an aircraft's charts, schedules and balance, with today's point on them."""
