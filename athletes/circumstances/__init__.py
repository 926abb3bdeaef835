"""What the rows say about people when a permission is asked: the facts of the decision, read in few queries."""
