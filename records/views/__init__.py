"""Pages on which things are logged and looked up. Thin: a form, a writer of `records.log`, and where to go next.

Nothing is imported here: every start asks for `unit_said`, and a command that shows no page needs none of them.
"""
