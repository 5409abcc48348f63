"""What a person says about a sheet that the sheet does not say itself."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.model.bench import BenchWithCalibrations, Metering
from portwright.model.head import Side
from portwright.model.quantity import AsTyped


@dataclass(frozen=True, slots=True)
class ImportDefaults:
    """Answers for what a sheet leaves out; a cell of the sheet always wins.

    Parameters
    ----------
    job, bench, port, stage, head, casting, date, cam, instrument : str
        Used where the sheet has no such column or cell.
    side : Side or None
        Side of ports whose name does not tell.
    test_pressure : AsTyped or None
        Test pressure of every reading that has none. [Pa]
    flow_at : AsTyped or None
        Pressure at which a flow column holds whose heading does not say. [Pa]
    flow_as_shown : bool
        True when such flow is as shown at the test pressure.
    metering : Metering or None
        How the bench was read, where the sheet allows more than one answer.
    conditions_from_bench : bool
        True when the bench's usual set-up was mounted; otherwise it counts as not recorded.
    method : str
        Reduction method stored with the runs.
    benches : tuple of BenchWithCalibrations
        Benches the shop already knows.
    stage_names : tuple of (str, str)
        Words of the sheet and the stage they mean, ("as received", "S0").
    sheet : str
        Kind of sheet, where the headings fit more than one.
    """

    job: str = ""
    bench: str = ""
    port: str = ""
    stage: str = ""
    head: str = ""
    casting: str = ""
    date: str = ""
    cam: str = ""
    instrument: str = ""
    side: Side | None = None
    test_pressure: AsTyped | None = None
    flow_at: AsTyped | None = None
    flow_as_shown: bool = False
    metering: Metering | None = None
    conditions_from_bench: bool = False
    method: str = "standard-1"
    benches: tuple[BenchWithCalibrations, ...] = ()
    stage_names: tuple[tuple[str, str], ...] = ()
    sheet: str = ""
