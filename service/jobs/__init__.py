"""Jobs: their states, the one way from a state to the next, and how a worker carries one out."""
