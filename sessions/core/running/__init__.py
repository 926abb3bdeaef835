"""Who runs when, and how long everybody has rested."""
