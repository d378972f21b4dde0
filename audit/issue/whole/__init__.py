"""Everything of a clinic as one file: made, checked without the program, and brought into an empty place."""
