"""Who gets in: signing in and what limits it, sittings, second factors, proof at signing.

What somebody may see and log is `records.access`, asked on every page; this room only says who somebody is.
"""
