"""Pages of the plumbing: errors, health, the gallery of components."""
