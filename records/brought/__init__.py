"""Rows that are brought in: a table from elsewhere, mapped to what our forms ask, judged as forms are, recorded."""
