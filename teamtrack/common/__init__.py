"""What both apps stand on: clock, errors, queue, API plumbing, base templates and static files."""
