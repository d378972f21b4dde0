"""Which function answers a question, by the name the data use."""

from __future__ import annotations

from collections.abc import Callable

from . import failures, keeping, loads, on_file, service, testing
from .asked import AskedPlace, Question, Reply, View

OfUnit = Callable[[AskedPlace, View, Question], Reply]
OfPlace = Callable[[AskedPlace, Question], Reply]

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
        loads.load_entries_complete,
        loads.released_on_proof,
        loads.held_without_data,
        loads.cycle_numbers_without_gaps,
        service.maintained_to_plan,
        service.service_log,
        service.serviced_yearly,
        service.contamination_declared,
        service.worker_qualified,
        service.instruments_in_calibration,
        on_file.paper_of_unit,
        keeping.records_kept,
        keeping.logbook_headings,
        keeping.stages_apart,
    )
}
OF_PLACE: dict[str, OfPlace] = {
    one.__name__: one for one in (on_file.on_file, on_file.people_trained, keeping.units_on_record, keeping.two_units)
}
