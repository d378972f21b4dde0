"""Say whether this installation can do its work, and what needs attention: what /health/ready says, with ways out.

Exit status: 0 all is well, 1 something needs attention, 3 it cannot do its work.
"""

import json

from audit.management import options as o
from audit.upkeep import health

SIGNS = {health.HealthState.WELL: "well", health.HealthState.MIND: "MIND", health.HealthState.STOP: "STOP"}


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--json", action="store_true", help="as data")

    def handle(self, *args, **options):
        found = health.look()
        if options["json"]:
            said = [{"check": c.name, "state": c.state, "said": c.said, "way_out": c.way_out} for c in found]
            self.stdout.write(json.dumps(said, ensure_ascii=False, indent=1))
        else:
            for check in found:
                self.stdout.write(f"{SIGNS[check.state]}  {check.name}: {check.said}")
                if check.way_out:
                    self.stdout.write(f"      {check.way_out}")
        states = {check.state for check in found}
        o.end(self, 3 if health.HealthState.STOP in states else 1 if health.HealthState.MIND in states else 0)
