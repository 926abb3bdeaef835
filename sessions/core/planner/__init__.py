"""The planner: sessions that still need a place get one, by the planning contract."""
