"""Practice workbooks for learners, the trainer's key, and the marking of what comes back."""
