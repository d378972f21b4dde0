"""What becomes of the record when something goes wrong or is done to it on purpose; the long runs are scripts."""
