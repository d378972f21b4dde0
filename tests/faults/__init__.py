"""What becomes of the record when something goes wrong or is done to it on purpose: changes of its files, processes
killed, many writers at once, broken uploads. A few in every run, thousands on demand:

python -m tests.faults.changes 5000
python -m tests.faults.uploads 10000
python -m tests.faults.uploads_over_http 10000
STANDING_KILLS=1000 STANDING_WRITERS=50 python -m pytest -n 0 -s tests/faults
STANDING_SEED=4 …  # other moments
# on PostgreSQL: the same with STANDING_DATABASE=postgresql and a role that may make databases
"""
