"""One start for everything: the environment of the demo, its processes, the serving login of PostgreSQL."""
