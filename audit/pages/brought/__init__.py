"""Tables on their way into the record: a file is chosen, its columns are named, its rows looked through and recorded;

or rows are typed, or pasted, into a table on the page.
"""
