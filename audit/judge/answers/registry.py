"""Which function answers a question, by the name the data use."""

from __future__ import annotations

from collections.abc import Callable

from . import failures, holdings, keeping, loads, on_file, people, service, testing, worked
from .asked import AskedPlace, AskedQuestion, Reply, View

OfUnit = Callable[[AskedPlace, View, AskedQuestion], Reply]
OfPlace = Callable[[AskedPlace, AskedQuestion], Reply]

OF_UNIT: dict[str, OfUnit] = {
    one.__name__: one
    for one in (
        testing.tested_each_period,
        testing.tested_after_events,
        testing.implants_tested,
        testing.checks_signed,
        testing.last_test,
        testing.matching_control,
        testing.lots_in_date,
        testing.test_entries_complete,
        testing.water_known,
        failures.failures_followed,
        failures.out_until_proven,
        failures.packs_recalled,
        failures.authority_told,
        loads.loads_monitored,
        loads.chemical_used,
        loads.integrator_used,
        loads.failed_rejected,
        loads.load_entries_complete,
        loads.released_on_proof,
        loads.held_without_data,
        loads.cycle_numbers_without_gaps,
        service.maintained_to_plan,
        service.service_log,
        service.preventive_log,
        service.serviced_yearly,
        service.contamination_declared,
        worked.worker_qualified,
        worked.instruments_in_calibration,
        on_file.paper_of_unit,
        keeping.records_kept,
        holdings.logbook_headings,
        holdings.stages_apart,
    )
}
OF_PLACE: dict[str, OfPlace] = {
    one.__name__: one
    for one in (
        failures.another_proven,
        on_file.on_file,
        on_file.papers_current,
        people.people_trained,
        holdings.units_on_record,
        holdings.two_units,
    )
}
BY_DUTIES = frozenset(  # these count what the rules followed ask, and cannot say what others would have asked
    one.__name__
    for one in (
        testing.tested_each_period, testing.tested_after_events, testing.implants_tested, testing.checks_signed
    )
)  # fmt: skip
OF_PAPERS = frozenset({on_file.on_file.__name__, on_file.papers_current.__name__})  # these need kinds of paper
