"""How many queries a page may take at most; beside it, no page takes more for more units or rows.

It was twelve until seven kinds of row were cast to text for the sake of one query, which took longer than seven.
"""

MOST_QUERIES = 24
