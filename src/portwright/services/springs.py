"""Springs and clearances of a job: what is measured, what follows, what nobody checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from portwright.core.seat.spring import Spring, coil_bind_margin, shim_for
from portwright.errors import Finding, InputError, RangeError, Severity, UnknownNameError, Where
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.nomenclature import term
from portwright.services.checked import Check, newest, record_check
from portwright.services.clearances import USUAL_CHECKS, usual_checks
from portwright.services.shop_figures import Figure, Figures, shipped
from portwright.services.shop_file import ShopFile
from portwright.units import Kind, read

# What a spring is bought by, once for intake and once for exhaust.
SPRING_QUANTITIES = (
    "target installed height",
    "spring seat load",
    "spring open load",
    "coil bind height",
    "full valve lift",
)
# What is measured at every valve.
VALVE_QUANTITIES = ("installed height", "shim thickness", "retainer clearance")

_FIGURE_OF = {
    "Intake valve to piston": "intake valve to piston least",
    "Exhaust valve to piston": "exhaust valve to piston least",
    "Valve edge to bore": "valve to bore least",
    "Valve to valve at overlap": "valve to valve least",
    "Valve radial in pocket": "valve in pocket least",
    "Retainer to guide seal at full lift": "retainer to seal least",
    "Spring coil bind margin": "coil bind least",
}


def spring_subject(side: Side) -> str:
    """What the readings of a spring belong to."""
    return f"{side.value} springs"


@dataclass(frozen=True, slots=True)
class ClearanceLine:
    """One clearance.

    Parameters
    ----------
    check : Check
    least : Figure
        The shop's minimum.
    close : bool
        The reading is below it.
    """

    check: Check
    least: Figure
    close: bool


@dataclass(frozen=True, slots=True)
class SpringLine:
    """One valve's spring.

    Parameters
    ----------
    port : str
    height, shim, retainer : Check
    height_now : float or None
        Installed height, shims taken off where they are recorded after it. [m]
    shim_needed : float or None
        To the height wanted; negative: cut the pad or change retainer or locks. [m]
    seat_load, open_load : float or None
        [N]
    bind_margin : float or None
        [m]
    """

    port: str
    height: Check
    shim: Check
    retainer: Check
    height_now: float | None
    shim_needed: float | None
    seat_load: float | None
    open_load: float | None
    bind_margin: float | None


@dataclass(frozen=True, slots=True)
class SpringSheet:
    """Springs and clearances of a job.

    Parameters
    ----------
    job : str
    spec : dict of Side to dict of str to Measurement
        What the springs are bought by.
    springs : tuple of SpringLine
    clearances : tuple of ClearanceLine
    findings : tuple of Finding
    """

    job: str
    spec: dict[Side, dict[str, Measurement]]
    springs: tuple[SpringLine, ...]
    clearances: tuple[ClearanceLine, ...]
    findings: tuple[Finding, ...]

    @property
    def open_names(self) -> tuple[str, ...]:
        """Everything nobody checked yet."""
        named = [c.check.name for c in self.clearances if not c.check.done]
        return (
            *named,
            *(
                f"{s.port} {c.name}"
                for s in self.springs
                for c in (s.height, s.retainer)
                if not c.done
            ),
        )


def spring_sheet(contents: JobContents, figures: Figures | None = None) -> SpringSheet:
    """Everything on record about springs and clearances, and what follows from it."""
    rules = figures or shipped()
    spec = {side: _spec(contents, side) for side in Side}
    findings: list[Finding] = []
    lines = [_spring(contents, port, spec[port.side], rules, findings) for port in contents.ports]
    clearances = tuple(_clearance(check, rules, findings) for check in usual_checks(contents))
    return SpringSheet(contents.job.number, spec, tuple(lines), clearances, tuple(findings))


def _spec(contents: JobContents, side: Side) -> dict[str, Measurement]:
    found = {}
    for quantity in SPRING_QUANTITIES:

        def fits(m: Measurement, quantity: str = quantity) -> bool:
            own = m.subject == spring_subject(side)
            card = quantity == "full valve lift" and m.place.startswith(side.value)
            return m.quantity == quantity and (own or card)

        measured = newest(contents, fits)
        if measured is not None:
            found[quantity] = measured
    return found


def _check(contents: JobContents, port: str, quantity: str) -> Check:
    return Check(quantity, newest(contents, lambda m: m.subject == port and m.quantity == quantity))


def _spring(
    contents: JobContents,
    port: Port,
    spec: dict[str, Measurement],
    figures: Figures,
    findings: list[Finding],
) -> SpringLine:
    height, shim, retainer = (_check(contents, port.code, q) for q in VALVE_QUANTITIES)
    measured = height.found.value.si if height.found else None
    fitted = shim.found.value.si if shim.found else 0.0
    now = None if measured is None else measured - fitted
    wanted, lift, bind = (
        spec[q].value.si if q in spec else None
        for q in ("target installed height", "full valve lift", "coil bind height")
    )
    place = Where(port=port.code)
    try:
        spring = _bought(spec)
        needed = None if now is None or wanted is None else shim_for(now, wanted)
        margin = (
            None
            if now is None or lift is None or bind is None
            else coil_bind_margin(now, lift, bind)
        )
        seat = spring.at(now) if spring and now is not None else None
        loaded = spring.at(now - lift) if spring and now is not None and lift is not None else None
    except RangeError as error:
        findings.append(Finding("spring-numbers", Severity.FAULT, error.message, error.hint, place))
        needed = margin = seat = loaded = None
    _spring_findings(port.code, needed, margin, retainer, figures, findings)
    return SpringLine(port.code, height, shim, retainer, now, needed, seat, loaded, margin)


def _bought(spec: dict[str, Measurement]) -> Spring | None:
    names = ("target installed height", "spring seat load", "full valve lift", "spring open load")
    if any(n not in spec for n in names):
        return None
    return Spring.from_loads(*(spec[n].value.si for n in names))


def _spring_findings(
    port: str,
    needed: float | None,
    margin: float | None,
    retainer: Check,
    figures: Figures,
    findings: list[Finding],
) -> None:
    def say(code: str, message: str, hint: str) -> None:
        findings.append(Finding(code, Severity.WARNING, message, hint, Where(port=port)))

    allowed = figures["installed height tolerance"]
    if needed is not None and needed < -allowed.value.si:
        say(
            "spring-too-short",
            f"{port}: {-1e3 * needed:.2f} mm short of the height wanted.",
            "Shims make it shorter still: cut the pad, or other retainers or locks.",
        )
    least = figures["coil bind least"]
    if margin is not None and margin < least.value.si:
        say(
            "coil-bind",
            f"{port}: {1e3 * margin:.2f} mm left to coil bind by the numbers; the shop's least is "
            f"{least.text} ({least.tag}).",
            "A taller fit, less lift or another spring; then measure it.",
        )
    least = figures["retainer to seal least"]
    if retainer.found is not None and retainer.found.value.si < least.value.si:
        say(
            "retainer-close",
            f"{port}: retainer {retainer.found.value} from the seal; the shop's least is "
            f"{least.text} ({least.tag}).",
            "A shorter guide, another seal or retainer.",
        )


def _clearance(check: Check, figures: Figures, findings: list[Finding]) -> ClearanceLine:
    found, name = check.found, check.name
    least = figures[_FIGURE_OF[name]]
    close = found is not None and found.value.si < least.value.si
    if close and found is not None:
        findings.append(
            Finding(
                "clearance-close",
                Severity.WARNING,
                f"{name}: {found.value}; the shop's least is {least.text} ({least.tag}).",
                "Measure again on the real engine before it turns.",
                Where(port=found.subject),
            )
        )
    return ClearanceLine(check, least, close)


def record_spring(
    shop: ShopFile, job: str, what: str, value: AsTyped, *, instrument: str, date: str
) -> Measurement:
    """Record one reading of the sheet.

    Parameters
    ----------
    what : str
        A usual check ("Valve to valve at overlap"), or port and quantity ("I1 installed
        height"), or "intake springs coil bind height".
    instrument, date : str

    Raises
    ------
    UnknownNameError, InputError
    """
    subject, quantity, place = _meant(shop.job(job), what)
    return record_check(
        shop, job, subject, quantity, value, instrument=instrument, date=date, place=place
    )


def _meant(contents: JobContents, what: str) -> tuple[str, str, str]:
    if what in USUAL_CHECKS:
        return "", "clearance", what
    names = {f"{p.code} {q}": (p.code, q) for p in contents.ports for q in VALVE_QUANTITIES}
    names |= {
        f"{spring_subject(s)} {q}": (spring_subject(s), q) for s in Side for q in SPRING_QUANTITIES
    }
    if what not in names:
        raise UnknownNameError("check", what, (*USUAL_CHECKS, *names))
    return (*names[what], "")


def kind_of_check(what: str) -> Kind:
    """Kind of the number a check takes; a clearance is a length."""
    for quantity in (*SPRING_QUANTITIES, *VALVE_QUANTITIES):
        if what.endswith(quantity):
            return Kind(term(quantity).kind)
    return Kind.LENGTH


def read_records(texts: Sequence[str]) -> list[tuple[str, AsTyped]]:
    """Read "check=number unit".

    Raises
    ------
    InputError, NumberError, UnitError
    """
    found = []
    for text in texts:
        what, equals, value = text.partition("=")
        if not equals:
            raise InputError(
                f"'{text}' has no '='.", "Write it like 'Valve to valve at overlap=1.45 mm'."
            )
        found.append((what.strip(), read(value, kind_of_check(what.strip()))))
    return found
