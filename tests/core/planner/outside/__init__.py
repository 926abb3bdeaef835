"""The planner against published instances and general-purpose solvers, through the planning contract's own JSON."""
