"""Binders made in the background: a queue in the database, workers that take from it, and a way to call one."""
