"""Faults from outside: processes killed, many writers at once. A few in every run, thousands on demand:

STANDING_KILLS=1000 STANDING_WRITERS=50 python -m pytest -n 0 -s tests/faults
# on PostgreSQL: the same with STANDING_DATABASE=postgresql and a role that may make databases
"""
