"""Bench lists, reference plate checks and cam lift tables."""

from __future__ import annotations

from portwright.io.checks import check_plates
from portwright.io.flow_rows import not_negative
from portwright.io.merge import UNNAMED_CAM
from portwright.io.sheet import Row, Sheet
from portwright.model.bench import Bench, PlateCheck
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Cam, CamPoint
from portwright.model.job import Job
from portwright.model.quantity import AsTyped
from portwright.units import Kind, read


def read_benches(sheet: Sheet) -> ShopContents:
    """Benches of a bench list; how each meters is chosen later, with its calibration."""

    def bench(row: Row) -> tuple[Bench, str]:
        code = row.text("bench")
        if not code:
            raise row.refused("bench", "the bench has no short name", "Give it one, like B1.")
        metering = ", ".join(t for t in (row.text("bench type"), row.text("metering")) if t)
        made = Bench(
            code=code,
            name=row.text("nickname"),
            kind=metering,
            test_pressure=row.number_of("test pressure"),
            readout=row.text("readout"),
            bore_adapter=_size(row, "bore adapter"),
            adapter_length=row.number_of("adapter length"),
            inlet_aid=row.text("inlet aid"),
            exhaust_stub=row.text("exhaust stub"),
            service_from=row.text("service from"),
            service_to=row.text("service to"),
            notes=row.text("note"),
        )
        return made, f"bench {code}"

    return ShopContents(benches=tuple(sheet.each(bench)))


def _size(row: Row, name: str) -> AsTyped | None:
    column, text = row.column(name), row.text(name)
    if column is None or not text:
        return None
    try:
        return read(text, Kind.LENGTH, column.unit or None)
    except ValueError as error:
        raise row.refused(name, str(error)) from error


def read_plate_checks(sheet: Sheet) -> ShopContents:
    """Checks of benches with reference plates."""

    def check(row: Row) -> tuple[PlateCheck, str]:
        bench = sheet.needed(
            row, "bench", "bench", sheet.defaults.bench, "the sheet does not name the bench"
        )
        certified = row.required("certified")
        if certified.si <= 0.0:
            raise row.refused("certified", "certified flow is not above zero")
        measured = not_negative(row, "measured flow") or row.required("measured flow")
        made = PlateCheck(
            date=row.text("date", sheet.defaults.date),
            bench=bench,
            plate=row.text("plate"),
            repeat=row.whole("repeat") or 1,
            certified=certified,
            measured=measured,
            bore=row.number_of("bore"),
        )
        return made, f"check of {bench} with plate {made.plate}"

    checks = tuple(sheet.each(check))
    check_plates(sheet)
    known = {bench.bench.code for bench in sheet.defaults.benches} | {""}
    benches = dict.fromkeys(check.bench for check in checks if check.bench not in known)
    return ShopContents(
        benches=tuple(Bench(code) for code in benches),
        plate_checks=checks,
    )


def read_cam_lift(sheet: Sheet) -> ShopContents:
    """Lift table of a cam; its card may come on another sheet."""
    angles: dict[float, int] = {}

    def point(row: Row) -> tuple[CamPoint, str]:
        angle = row.required("cam angle")
        earlier = angles.setdefault(round(angle.si, 9), row.number)
        if earlier != row.number:
            raise row.refused("cam angle", f"this angle is already in row {earlier}")
        intake, exhaust = _lift(row, "intake lift"), _lift(row, "exhaust lift")
        return CamPoint(angle, intake, exhaust), f"cam lift at {angle}"

    points = tuple(sheet.each(point))
    job = sheet.defaults.job
    if not job:
        sheet.need("job", "the sheet does not say which job it is for")
    cam = Cam(sheet.defaults.cam or UNNAMED_CAM, points=points)
    return ShopContents(jobs=(JobContents(Job(job), cams=(cam,)),))


def _lift(row: Row, name: str) -> AsTyped:
    lift = row.required(name)
    if lift.si < 0.0:
        raise row.refused(name, "lift is below zero", "Check the zero of the lift dial.")
    return lift
