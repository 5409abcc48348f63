"""Sheets of one field and its value per row: the shop, a job, a cam card."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from portwright.errors import InputError, Severity
from portwright.io.head_fields import head_facts
from portwright.io.merge import UNNAMED_CAM
from portwright.io.sheet import Row, Sheet
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import ONE_HEAD, Cam, Casting, Head
from portwright.model.job import Job, Measurement, Shop
from portwright.model.quantity import AsTyped
from portwright.units import Kind, parse_number, read, unit


def field_names(sheet: Sheet) -> set[str]:
    """Names in the field column, lower case."""
    return {row.text("field").casefold() for row in sheet.rows()}


def _fields(sheet: Sheet, what: str) -> dict[str, Row]:
    """Rows by field name; a name given twice is refused the second time."""
    seen: dict[str, Row] = {}

    def one(row: Row) -> tuple[Row, str]:
        name = row.text("field")
        if not name:
            raise row.refused("field", "the field has no name")
        if name.casefold() in seen:
            raise row.refused("field", f"{name} is already in row {seen[name.casefold()].number}")
        seen[name.casefold()] = row
        return row, f"{name} of {what}"

    sheet.each(one)
    return seen


def _text(fields: dict[str, Row], name: str) -> str:
    return fields[name].text("value") if name in fields else ""


def read_shop(sheet: Sheet) -> ShopContents:
    """The shop's own facts."""
    fields = _fields(sheet, "the shop")
    name = _text(fields, "shop_name")
    units = _units(sheet, fields.get("units_default"))
    shop = Shop(
        name=name,
        town=_text(fields, "town"),
        porter=_text(fields, "porter"),
        currency=_text(fields, "currency") or "EUR",
        labour_rate=_text(fields, "labour_rate_per_h"),
        length_unit=units[0],
        flow_unit=units[1],
        report_pressure=units[2],
    )
    kept = {"shop_name", "town", "porter", "currency", "labour_rate_per_h", "units_default"}
    for other in fields.keys() - kept:
        sheet.find(
            "field-not-kept",
            f"The shop has no place for '{other}' ({_text(fields, other)}).",
            "Write it in a note if it matters.",
            Severity.NOTE,
        )
    return ShopContents(shop=shop)


def _units(sheet: Sheet, row: Row | None) -> tuple[str, str, AsTyped | None]:
    """Length unit, flow unit and report pressure of "mm / cfm at 28 inH2O"."""
    text = row.text("value") if row else ""
    if row is None or not text:
        return "mm", "cfm", None
    match = re.fullmatch(r"(?P<length>\S+)\s*/\s*(?P<flow>\S+)(?:\s+at\s+(?P<at>.+))?", text)
    try:
        if match is None:
            raise InputError(f"'{text}' is not a set of units.")  # noqa: TRY301
        at = read(match["at"], Kind.PRESSURE) if match["at"] else None
        return unit(match["length"], Kind.LENGTH).name, unit(match["flow"], Kind.FLOW).name, at
    except InputError as error:
        hint = "Write it like: mm / cfm at 28 inH2O."
        sheet.withdraw([row.refused("value", error.message, hint).refusal])
        return "mm", "cfm", None


_JOB_FIELDS = {
    "job_no": "number", "opened": "opened", "promised": "promised", "delivered": "delivered",
    "customer": "customer", "car": "vehicle", "vehicle": "vehicle",
}  # fmt: skip


def read_job(sheet: Sheet) -> ShopContents:
    """A job with its casting and heads; every field is also kept as typed."""
    fields = _fields(sheet, "the job")
    known = {to: _text(fields, name) for name, to in _JOB_FIELDS.items() if _text(fields, name)}
    number = known.pop("number", "") or sheet.defaults.job
    if not number:
        sheet.need("job", "the sheet has no job_no")
    casting_text = _text(fields, "casting")
    marked = re.search(r"(?i)casting\s+no\.?\s*:?\s*(\S+)", casting_text)
    casting = marked[1].rstrip(",;") if marked else casting_text or sheet.defaults.casting
    goal = [("goal_band_rpm", "{} rpm"), ("goal_peak_power_rpm", "peak power at {} rpm")]
    job = Job(
        number=number,
        casting=casting,
        goal=", ".join(text.format(_text(fields, n)) for n, text in goal if n in fields),
        facts={
            row.text("field"): row.text("value")
            for name, row in fields.items()
            if name not in _JOB_FIELDS
        },
        **known,
    )
    heads = _heads(_text(fields, "serials"), casting)
    said: dict[str, Any] = head_facts(
        ((row.text("field"), row.text("value")) for row in fields.values()), sheet.only_words
    )
    castings: tuple[Casting, ...] = ()
    if casting:
        architecture = _text(fields, "architecture")
        castings = (Casting(casting, casting_text, architecture, **said),)
    elif said:
        heads = tuple(replace(head, **said) for head in heads) or (Head(ONE_HEAD, **said),)
    return ShopContents(castings=castings, jobs=(JobContents(job, heads=heads),))


def _heads(serials: str, casting: str) -> tuple[Head, ...]:
    """Heads in "Left HM-L-1183, Right HM-R-0907"; other wording stays with the job's facts."""
    heads = []
    for part in serials.split(","):
        match = re.fullmatch(r"\s*(left|right|l|r)\s+(\S+)\s*", part, re.IGNORECASE)
        if match is None:
            return ()
        heads.append(Head(match[1][0].upper(), casting, match[2]))
    return tuple(heads)


# Fields of a cam card that a cam has no place for: kept as measurements of it.
_CARD_MEASUREMENTS = {
    "checking_lift": ("checking lift", ""),
    "max_lift_intake": ("full valve lift", "intake"),
    "max_lift_exhaust": ("full valve lift", "exhaust"),
    "lobe_separation": ("lobe separation", ""),
}
_CARD_KINDS = {
    "intake_centre_atdc": Kind.ANGLE, "intake_centre": Kind.ANGLE,
    "exhaust_centre_btdc": Kind.ANGLE, "exhaust_centre": Kind.ANGLE,
    "lobe_separation": Kind.ANGLE, "checking_lift": Kind.LENGTH,
    "max_lift_intake": Kind.LENGTH, "max_lift_exhaust": Kind.LENGTH,
    "lash_hot": Kind.LENGTH, "lash_cold": Kind.LENGTH, "lash": Kind.LENGTH,
}  # fmt: skip


def read_cam_card(sheet: Sheet) -> ShopContents:
    """A cam card; what a cam has no place for becomes a measurement of the cam."""
    values: dict[str, AsTyped] = {}
    cards: list[str] = []
    ratios: list[float] = []

    def one(row: Row) -> tuple[None, str]:
        name = row.text("field")
        base, unit_name = _card_field(name)
        if base:
            values[base] = _card_value(row, base, unit_name)
        elif name.casefold() == "rocker_ratio":
            ratios.append(_ratio(row))
        elif name.casefold() == "card":
            cards.append(row.text("value"))
        else:
            raise row.refused("field", f"a cam card has no place for '{name}'")
        return None, f"{name} of the cam"

    sheet.each(one)
    job = sheet.defaults.job
    if not job:
        sheet.need("job", "the sheet does not say which job it is for")
    card = next((text for text in cards if text), sheet.defaults.cam or UNNAMED_CAM)
    first = _first_of(values)
    cam = Cam(
        card,
        first("intake_centre_atdc", "intake_centre"),
        first("exhaust_centre_btdc", "exhaust_centre"),
        first("lash_hot", "lash", "lash_cold"),
        ratios[0] if ratios else None,
    )
    measured = tuple(
        Measurement(f"cam {card}", _CARD_MEASUREMENTS[base][0], value, _CARD_MEASUREMENTS[base][1])
        for base, value in values.items()
        if base in _CARD_MEASUREMENTS
    )
    return ShopContents(jobs=(JobContents(Job(job), cams=(cam,), measurements=measured),))


def _ratio(row: Row) -> float:
    try:
        return parse_number(row.text("value"))
    except InputError as error:
        raise row.refused("value", error.message, error.hint) from error


def _first_of(values: dict[str, AsTyped]) -> Callable[..., AsTyped | None]:
    return lambda *names: next((values[name] for name in names if name in values), None)


def _card_field(name: str) -> tuple[str, str]:
    """Field of a card without its unit, and the unit; blank where it is not a number."""
    tokens = re.sub(r"\W+", "_", name.casefold()).split("_")
    for at, token in enumerate(tokens):
        rest = "_".join(tokens[:at] + tokens[at + 1 :])
        if rest in _CARD_KINDS and token in {"deg", "mm", "in", "thou"}:
            return rest, token
    return ("_".join(tokens), "") if "_".join(tokens) in _CARD_KINDS else ("", "")


def _card_value(row: Row, base: str, unit_name: str) -> AsTyped:
    try:
        return read(row.text("value"), _CARD_KINDS[base], unit_name or None)
    except InputError as error:
        raise row.refused("value", error.message, error.hint) from error
