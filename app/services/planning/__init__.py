"""What is needed by when, what there is for it, when the bench begins."""
