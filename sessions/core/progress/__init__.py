"""What was said about an athlete's form, and what followed."""
