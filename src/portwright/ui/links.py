"""Addresses of the screens, written in one place."""

from __future__ import annotations

from urllib.parse import urlencode

HOME, JOBS, NEW_JOB, JOB, JOB_SHEET = "/", "/jobs", "/jobs/new", "/job", "/job/sheet"
BENCH, MEASURE, COMPARE, SHOP = "/bench", "/measure", "/compare", "/shop"
LOGIN, LOGOUT, GUEST, PHOTO = "/login", "/logout", "/guest", "/photo"
ENGINE, TRACE = "/engine", "/trace"
SHEETS, SHEET_FILE, REPORT = "/sheets", "/sheets/file", "/report"
REPORT_PAGE, REPORT_PROGRESS = "/report/page", "/report/progress"
PAPERS, PAPERS_WAV, PAPERS_STILL = "/papers", "/papers/wav", "/papers/still"
PAPERS_CLIP, PAPERS_SHEET, PAPERS_LABELS = "/papers/clip", "/papers/sheet", "/papers/labels"
PHOTO_MARKS, PHOTO_COPY = "/photo/marks", "/photo/copy"
CARD, BILL, LOGO = "/card", "/card/bill", "/shop/logo"
PORT, SECTIONS, WALLS, PITOT = "/port", "/port/sections", "/port/walls", "/port/pitot"
SEAT, SEAT_SHEET = "/seat", "/seat/sheet"
FIGURES, HEALTH, PEOPLE = "/shop/figures", "/health", "/shop/people"
ROOM, ROOM_SHEET = "/room", "/room/sheet"
INSPECTION, INSPECTION_SHEET = "/inspection", "/inspection/sheet"
MANIFOLD, MANIFOLD_SHEET = "/manifold", "/manifold/sheet"
SPRINGS, SPRINGS_SHEET = "/springs", "/springs/sheet"
RANK, FIND, TRANSLATE, CUTS, BENCHES = "/rank", "/find", "/translate", "/cuts", "/benches"
INSTRUMENTS, SETTLING = "/instruments", "/settling"
CLAIMS, REVIEW = "/claims", "/review"
BENCH_STUDY = "/benches/study"
SCAN, SCAN_FILE = "/scan", "/scan/file"

API = "/api"


def _with(address: str, **parts: str) -> str:
    given = {name: value for name, value in parts.items() if value}
    return f"{address}?{urlencode(given)}" if given else address


def job(number: str) -> str:
    """Job page."""
    return _with(JOB, number=number)


def job_sheet(number: str) -> str:
    """Fields and ports of a job."""
    return _with(JOB_SHEET, number=number)


def bench(job: str = "", port: str = "", stage: str = "", run: str = "") -> str:
    """Bench screen, as far as it is known what will be tested."""
    return _with(BENCH, job=job, port=port, stage=stage, run=run)


def live(job: str, port: str, stage: str, run: str) -> str:
    """Bench screen of a sweep while the instruments are listened to."""
    return _with(BENCH, job=job, port=port, stage=stage, run=run, live="1")


def instruments(name: str = "", begin: str = "") -> str:
    """Instruments; one of them, or a new one begun with an example."""
    return _with(INSTRUMENTS, name=name, begin=begin)


def settling(run: str, rule: str = "", against: str = "") -> str:
    """How a sweep taken live settled."""
    return _with(SETTLING, run=run, rule=rule, against=against)


def measure(job: str = "", port: str = "", stage: str = "") -> str:
    """Measure screen."""
    return _with(MEASURE, job=job, port=port, stage=stage)


def port(job: str = "", port: str = "", stage: str = "") -> str:
    """Port screen: sections, air, wall, where to cut next."""
    return _with(PORT, job=job, port=port, stage=stage)


def sections(job: str = "", port: str = "", stage: str = "") -> str:
    """Sections of a port, typed in by shape."""
    return _with(SECTIONS, job=job, port=port, stage=stage)


def walls(job: str = "", port: str = "", stage: str = "") -> str:
    """Wall readings round a port."""
    return _with(WALLS, job=job, port=port, stage=stage)


def pitot(
    job: str = "", port: str = "", stage: str = "", landmark: str = "", lift: str = ""
) -> str:
    """Pitot marks of a port."""
    return _with(PITOT, job=job, port=port, stage=stage, landmark=landmark, lift=lift)


def seat(job: str = "", port: str = "", stage: str = "") -> str:
    """Valve and seat of a port, with alternatives."""
    return _with(SEAT, job=job, port=port, stage=stage)


def manifold(job: str = "", port: str = "", stage: str = "") -> str:
    """Manifold or pipe against a port."""
    return _with(MANIFOLD, job=job, port=port, stage=stage)


def room(job: str = "") -> str:
    """Room for valves in bore and over the piston."""
    return _with(ROOM, job=job)


def inspection(job: str = "") -> str:
    """What was seen on the parts, and what may be behind it."""
    return _with(INSPECTION, job=job)


def inspection_sheet(job: str) -> str:
    """The same on paper."""
    return _with(INSPECTION_SHEET, job=job)


def springs(job: str = "") -> str:
    """Springs and clearances of a job."""
    return _with(SPRINGS, job=job)


def springs_sheet(job: str) -> str:
    """The same on paper."""
    return _with(SPRINGS_SHEET, job=job)


def scan(job: str = "", port: str = "", stage: str = "") -> str:
    """Scan screen; what is found can be kept as sections of this port."""
    return _with(SCAN, job=job, port=port, stage=stage)


def compare(job: str = "", runs: str = "") -> str:
    """Compare screen; ``runs`` are run codes joined by commas."""
    return _with(COMPARE, job=job, runs=runs)


def engine(number: str, before: str = "", after: str = "", *, run: bool = False) -> str:
    """Engine screen of a job; ``run`` begins or joins the simulation."""
    return _with(ENGINE, number=number, before=before, after=after, run="1" if run else "")


def trace(job: str, photo: int = 0) -> str:
    """Measuring on a photo; without one, choose it first."""
    return _with(TRACE, job=job, photo=str(photo) if photo else "")


def jobs(casting: str = "", words: str = "") -> str:
    """Job list."""
    return _with(JOBS, casting=casting, words=words)


def sheets(job: str = "") -> str:
    """Screen that reads a sheet."""
    return _with(SHEETS, job=job)


def report(number: str, length: str = "", language: str = "") -> str:
    """The customer's pages of a job, as PDF."""
    return _with(REPORT, number=number, length=length, language=language)


def report_progress(number: str, length: str = "", language: str = "") -> str:
    """How far the making of the same pages is."""
    return _with(REPORT_PROGRESS, number=number, length=length, language=language)


def card(number: str) -> str:
    """Job card."""
    return _with(CARD, job=number)


def photo_marks(job: str, photo: int) -> str:
    """Marking a photo."""
    return _with(PHOTO_MARKS, job=job, photo=str(photo))


def photo_copy(job: str, photo: int) -> str:
    """A copy of a photo to give away."""
    return _with(PHOTO_COPY, job=job, photo=str(photo))


def papers(number: str, language: str = "") -> str:
    """Report, spoken summary, pictures, sheets and labels of a job."""
    return _with(PAPERS, number=number, language=language)


def papers_file(address: str, number: str, **parts: str) -> str:
    """One of the files of that screen."""
    return _with(address, number=number, **parts)


def bill(number: str, which: str) -> str:
    """A quote or invoice of a job: its kind and number, or the kind alone for a draft."""
    return _with(BILL, job=number, number=which)


def report_page(number: str, length: str = "", language: str = "") -> str:
    """The customer's pages of a job, as a page."""
    return _with(REPORT_PAGE, number=number, length=length, language=language)


def rank(number: str) -> str:
    """Rank screen of a job."""
    return _with(RANK, job=number)


def find(words: str = "") -> str:
    """Search screen."""
    return _with(FIND, words=words)


def cuts(number: str, port: str = "") -> str:
    """Which cut did what."""
    return _with(CUTS, job=number, port=port)


def translate(job: str = "", port: str = "", stage: str = "") -> str:
    """What a sweep would read on another bench; without a job, the two benches."""
    return _with(TRANSLATE, job=job, port=port, stage=stage)


def bench_health(bench: str = "") -> str:
    """Plate checks, calibrations and repeatability of a bench."""
    return _with(BENCHES, bench=bench)


def gauge_study(bench: str) -> str:
    """A bench's own study with persons, ports and repeats."""
    return _with(BENCH_STUDY, bench=bench)


def claims(number: str) -> str:
    """Other shops' sheets kept with a job."""
    return _with(CLAIMS, job=number)


def review(job: str, run: str = "") -> str:
    """An old sheet confirmed row by row."""
    return _with(REVIEW, job=job, run=run)
