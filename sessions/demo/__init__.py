"""The invented club of the demo: nobody in it exists, and the same seed and day give the same club."""
