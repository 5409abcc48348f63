"""The port itself: sections, air, metal, what to cut next."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.display import Display
    from portwright.services.port import PortView


def _mm(value: float | None) -> float | None:
    return None if value is None else round(units.from_si(value, "mm", Kind.LENGTH), 3)


def _mm2(value: float) -> float:
    return round(value * 1e6, 2)


def _known(value: float, digits: int = 3) -> float | None:
    return round(value, digits) if math.isfinite(value) else None


def _stations_json(view: PortView) -> list[dict[str, Any]]:
    rows = []
    for i, station in enumerate(view.profile.stations):
        air = view.air[i] if view.air else None
        rows.append(
            {
                "landmark": station.landmark,
                "distance_mm": _mm(station.distance),
                "area_mm2": _mm2(station.area),
                "area_uncertainty_mm2": _mm2(station.uncertainty),
                "perimeter_mm": _mm(station.perimeter),
                "hydraulic_diameter_mm": _mm(station.hydraulic_diameter),
                "blocked_mm2": _mm2(station.blocked),
                "measured_by": station.how.value,
                "bench_velocity_m_s": _known(air.mean, 1) if air else None,
                "bench_mach": _known(air.mach, 4) if air else None,
                "engine_velocity_m_s": _known(air.engine_mean, 1) if air else None,
                "engine_mach": _known(air.engine_mach, 4) if air else None,
            }
        )
    return rows


def _view_json(view: PortView) -> dict[str, Any]:
    from portwright.cli.commands.port_entry import wall_json
    from portwright.services.next_cut import gain_words

    profile = view.profile
    volume, burette = profile.volume, profile.burette
    return {
        "job": view.job,
        "port": view.port,
        "stage": view.stage,
        "sentences": view.sentences,
        "stations": _stations_json(view),
        "smallest": profile.smallest,
        "not_told_from_smallest": profile.rivals,
        "volume_cc": round(volume.value * 1e6, 2) if volume else None,
        "volume_uncertainty_cc": round(volume.uncertainty * 1e6, 2) if volume else None,
        "burette_cc": round(burette.value * 1e6, 2) if burette else None,
        "included_taper_deg": _known(math.degrees(profile.taper), 2),
        "ratios": [
            {"name": r.name, "value": round(r.value, 4), "usual": [r.low, r.high]}
            for r in profile.ratios.values()
        ],
        "flow": None
        if view.flow is None
        else {
            "stage": view.flow.stage,
            "lift_mm": _mm(view.flow.lift),
            "effective_area_mm2": _mm2(view.flow.area),
            "pressure_inH2O": round(units.from_si(view.flow.pressure, "inH2O", Kind.PRESSURE), 3),
            "runs": view.flow.runs,
        },
        "choke": None
        if view.choke is None
        else {
            "place": view.choke.place,
            "area_mm2": _mm2(view.choke.area),
            "above_lift_mm": _mm(view.choke.above),
            "engine_rpm_at_velocity_limit": _known(view.choke.engine_speed * 30.0 / math.pi, 0),
        },
        "maps": [
            {
                "plane": m.plane,
                "stage": m.stage,
                "lift_mm": _mm(m.lift),
                "mean_m_s": round(m.mean.mean, 2),
                "mean_range_m_s": [round(m.mean.low, 2), round(m.mean.high, 2)],
                "bench_mean_m_s": _known(m.bench_mean, 2),
                "against_bench_pct": _known(100.0 * m.against_bench, 2),
                "spread_pct": round(100.0 * m.mean.spread, 2),
                "weighting": m.weighting,
                "marks": [
                    {
                        "row": k.row,
                        "column": k.column,
                        "side": k.side,
                        "velocity_m_s": _known(k.velocity, 2),
                        "share": round(k.share, 4),
                        "zone": k.zone.value,
                    }
                    for k in m.marks
                ],
            }
            for m in view.maps
        ],
        "walls": [wall_json(w) for w in view.walls],
        "next_cut": {
            "candidates": [
                {
                    "place": c.place,
                    "action": c.action,
                    "why": c.why,
                    "metal": c.room.value,
                    "cut_mm": _mm(c.cut),
                    "expected": gain_words(c),
                    "expected_pct": None
                    if c.expected is None
                    else [round(100 * c.expected.low, 2), round(100 * c.expected.high, 2)],
                    "caution": c.caution,
                }
                for c in view.advice.candidates
            ],
            "leave": view.advice.leave,
            "stop": view.advice.stop,
            "stop_reasons": view.advice.stop_reasons,
            "class_rules": view.advice.class_words,
        },
        "findings": [finding_json(f) for f in view.findings],
    }


def port(
    job: Annotated[str, typer.Argument(help="Job number.")],
    name: Annotated[
        str, typer.Argument(metavar="[PORT]", help="Port; the one developed most when left out.")
    ] = "",
    stage: Annotated[
        str, typer.Option("--stage", help="Stage; the newest with sections when left out.")
    ] = "",
    lift: Annotated[
        str, typer.Option("--lift", help="Lift of the bench flow: '10 mm'; the highest without.")
    ] = "",
    rpm: Annotated[
        str, typer.Option("--rpm", help="Engine speed; what the job aims at without.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Where to cut next and is there metal there: area, air and wall along one port."""
    from portwright.services.display import Display
    from portwright.services.port import look
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        view = look(
            archive,
            job,
            name,
            stage,
            lift=units.read(lift, Kind.LENGTH, display.length).si if lift else None,
            turning_speed=units.read(rpm, Kind.TURNING_SPEED, "rpm").si if rpm else None,
        )
    if as_json:
        print_json(_view_json(view))
        return
    _say_view(view, display)


def limits(
    name: Annotated[str, typer.Argument(help="Figure to change; all are listed without.")] = "",
    value: Annotated[str, typer.Argument(help="New value: '2 mm', '300 ft/s', '1.3'.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the figures work is held against and where they come from, or change one."""
    from portwright.services.shop_figures import all_lines, set_any_text
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        if name:
            set_any_text(archive, name, value)
        lines = all_lines(archive)
    if as_json:
        print_json(lines)
        return
    table(("figure", "value", "where from"), [(x.name, x.value, x.tag) for x in lines])


def _say_view(view: PortView, display: Display) -> None:
    from portwright.services.metal import held_back_sentence, plan_sentence, wall_sentence
    from portwright.services.next_cut import gain_words
    from portwright.services.port_profile import size_sentences

    say(f"{view.port} at {view.stage}")
    for sentence in view.sentences:
        say(sentence)
    for sentence in size_sentences(view.profile, display):
        say(sentence)
    say()
    _say_stations(view, display)
    _say_air(view, display)
    if view.walls:
        say()
        for wall in view.walls:
            say(f"  {wall_sentence(wall, display)}")
            if plan := plan_sentence(wall, display):
                say(f"    {plan}")
            if held := held_back_sentence(wall, display):
                say(f"  {held}")
    say()
    say("Where to cut next" if view.advice.candidates else "Nothing stands out to cut.")
    for place, candidate in enumerate(view.advice.candidates, start=1):
        expected = gain_words(candidate)
        room = "" if candidate.room.value == expected else f" ({candidate.room.value})"
        say(f"{place:3}. {candidate.action}: {expected}{room}.")
        for sentence in (*candidate.why, *candidate.caution):
            say(f"     {sentence}")
    for sentence in view.advice.leave:
        say(f"  {sentence}")
    say()
    say("Stop." if view.advice.stop else "No reason to stop yet.")
    for sentence in (*view.advice.stop_reasons, *view.advice.class_words):
        say(f"  {sentence}")
    if view.findings:
        say()
        say_findings(view.findings, display.length)


def _say_stations(view: PortView, display: Display) -> None:
    rows = []
    for i, station in enumerate(view.profile.stations):
        air = view.air[i] if view.air else None
        at = "–" if station.distance is None else display.lift_text(station.distance)
        mark = " < smallest" if i == view.profile.smallest else ""
        rows.append(
            (
                at,
                units.show(station.area, display.area, Kind.AREA),
                units.show(2.0 * station.uncertainty, display.area, Kind.AREA),
                f"{air.mean:.0f}" if air else "–",
                f"{air.mach:.2f}" if air and math.isfinite(air.mach) else "–",
                f"{air.engine_mean:.0f}" if air and math.isfinite(air.engine_mean) else "–",
                f"{air.engine_mach:.2f}" if air and math.isfinite(air.engine_mach) else "–",
                f"{station.landmark or '–'}{mark}",
            )
        )
    table(
        (
            f"from opening {display.length}",
            f"area {display.area}",
            "± (95 %)",
            "bench m/s",
            "Mach",
            "engine m/s",
            "Mach",
            "landmark",
        ),
        rows,
    )


def _say_air(view: PortView, display: Display) -> None:
    if view.engine is not None and view.air:
        rpm = view.engine.turning_speed * 30.0 / math.pi
        say(f"  engine: what the piston asks at {rpm:.0f} rpm, mean over its stroke")
    if view.flow is not None:
        lift = f"{display.lift_text(view.flow.lift)} {display.length}"
        say(f"  bench flow of {view.flow.stage} at {lift} lift, {', '.join(view.flow.runs)}")
    if view.choke is not None:
        text = f"  smallest passage at that lift: {view.choke.place}"
        if view.choke.above is not None:
            above = f"{display.lift_text(view.choke.above)} {display.length}"
            text += f"; below {above} lift the valve gap is smaller"
        say(text)
        if math.isfinite(view.choke.engine_speed):
            rpm = round(view.choke.engine_speed * 30.0 / math.pi, -2)
            say(f"  it reaches the velocity limit of the engine at about {rpm:.0f} rpm")
    for found in view.maps:
        text = f"  {found.plane}: mean {found.mean.mean:.0f} m/s, spread {found.mean.spread:.0%}"
        if math.isfinite(found.bench_mean):
            text += f", bench flow over section {found.bench_mean:.0f} m/s"
        say(text)
