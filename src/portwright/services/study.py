"""Repeatability from a plain table: one-way analysis of variance, gauge study by persons."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from portwright.core.gauge import OneWayAnova, one_way_anova
from portwright.errors import Finding, InputError, Severity, UnknownNameError
from portwright.io.tables import Table, read_table
from portwright.services.gauge_study import GaugeResult, gauge_result


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """One analysis of variance with what it was made from.

    Parameters
    ----------
    source : str
        File name.
    value, group : str
        Headings of the columns used; ``group`` is "columns" where each column is a group.
    values : int
    groups : int
    anova : OneWayAnova
    sizes : dict of str to int
        Values of each group.
    means : dict of str to float
        Mean of each group, units of the values.
    findings : tuple of Finding
    """

    source: str
    value: str
    group: str
    values: int
    groups: int
    anova: OneWayAnova
    sizes: dict[str, int]
    means: dict[str, float]
    findings: tuple[Finding, ...]

    def smallest_difference(self) -> float:
        """Difference of two single readings that repeats alone pass once in twenty times."""
        from portwright.core.uncertainty import coverage_factor

        quantile = float(coverage_factor(float(self.anova.within_freedom)))
        return quantile * math.sqrt(2.0) * self.anova.within_deviation


def repeatability_of_file(path: Path, *, value: str = "", group: str = "") -> Study:
    """Split the spread of a table into within groups (repeatability) and between them.

    Parameters
    ----------
    path : Path
        CSV or XLSX.  Either one column of values beside one that names the group (port, day,
        person), or one column for each group.
    value, group : str
        Headings; needed where the table has more than two columns and they are not all numbers.

    Raises
    ------
    ImportFileError
        Not a table.
    UnknownNameError
        No such column.
    InputError
        It is not clear which columns are meant.
    ShapeError
        Fewer than two groups, or nothing repeated.
    """
    table = read_table(path)
    for name in (value, group):
        if name and name not in table.headers:
            raise UnknownNameError("column", name, table.headers)
    columns = {
        name: [row[k].strip() if k < len(row) else "" for row in table.rows]
        for k, name in enumerate(table.headers)
    }
    pairs, said = _pairs(table, columns, value, group)
    values, groups, findings = [], [], []
    skipped = 0
    for name, text in pairs:
        number = _number(text)
        if number is None:
            skipped += bool(text)
            continue
        values.append(number)
        groups.append(name)
    if skipped:
        findings.append(
            Finding(
                "value-not-a-number",
                Severity.WARNING,
                f"{skipped} cells of {table.source} are no numbers and were left out.",
                "Look for text among the values.",
                size=float(skipped),
            )
        )
    names = list(dict.fromkeys(groups))
    sizes = Counter(groups)
    anova = one_way_anova(
        np.array(values, dtype=np.float64),
        np.array([names.index(g) for g in groups], dtype=np.int64),
    )
    means = {n: math.fsum(v for v, g in zip(values, groups, strict=True) if g == n) for n in names}
    return Study(
        table.source,
        said[0],
        said[1],
        len(values),
        len(names),
        anova,
        dict(sizes),
        {n: total / sizes[n] for n, total in means.items()},
        tuple(findings),
    )


def gauge_of_file(path: Path, *, value: str, port: str, person: str) -> GaugeResult:
    """Gauge study from a table with one reading a row.

    Parameters
    ----------
    path : Path
        CSV or XLSX.
    value, port, person : str
        Headings of the readings, of what was read and of who read it.

    Raises
    ------
    ImportFileError
        Not a table.
    UnknownNameError
        No such column.
    InputError
        A cell that is no number, or not every person read every port equally often.
    ShapeError
        Fewer than two persons, ports or times.
    """
    table = read_table(path)
    for name in (value, port, person):
        if name not in table.headers:
            raise UnknownNameError("column", name, table.headers)
    at = {name: table.headers.index(name) for name in (value, port, person)}
    cells: dict[tuple[str, str], list[float]] = {}
    for row in table.rows:
        texts = [row[k].strip() if k < len(row) else "" for k in at.values()]
        if not any(texts):
            continue
        number = _number(texts[0])
        if number is None:
            raise InputError(
                f"'{texts[0]}' in {table.source} is no number.", "Correct it; a study needs all."
            )
        cells.setdefault((texts[2], texts[1]), []).append(number)
    persons = list(dict.fromkeys(p for p, _ in cells))
    ports = list(dict.fromkeys(p for _, p in cells))
    times = {len(cells.get((who, what), ())) for who in persons for what in ports}
    if len(times) != 1:
        raise InputError(
            f"Not every person read every port equally often in {table.source}.",
            "Read what is missing, or leave that port or person out.",
        )
    return gauge_result(np.array([[cells[who, what] for what in ports] for who in persons]))


def _number(text: str) -> float | None:
    try:
        found = float(text.replace(",", ".") if text.count(",") == 1 else text)
    except ValueError:
        return None
    return found if math.isfinite(found) else None


def _pairs(
    table: Table, columns: dict[str, list[str]], value: str, group: str
) -> tuple[list[tuple[str, str]], tuple[str, str]]:
    """Group and text of every value, with the columns they were taken from."""
    numeric = [n for n, cells in columns.items() if any(cells) and _all_numbers(cells)]
    if value or group:
        value = value or _only([n for n in numeric if n != group], "values", table)
        group = group or _only([n for n in columns if n != value], "groups", table)
        return list(zip(columns[group], columns[value], strict=True)), (value, group)
    if len(columns) == 2:
        first, second = columns
        if first not in numeric and second not in numeric:
            raise InputError(f"{table.source} has no column of numbers.", "Check its decimal sign.")
        if second not in numeric:
            first, second = second, first
        repeated = len(set(columns[first])) < sum(bool(c) for c in columns[first])
        if first not in numeric or (repeated and len(set(columns[first])) > 1):
            return list(zip(columns[first], columns[second], strict=True)), (second, first)
    if len(numeric) == len(columns) and len(columns) >= 2:
        pairs = [(name, text) for name, cells in columns.items() for text in cells]
        return pairs, ("all columns", "columns")
    raise InputError(
        f"{table.source} has the columns {', '.join(table.headers)}; it is not clear which hold "
        "the values and which name the group.",
        "Name them with --value and --group.",
    )


def _all_numbers(cells: list[str]) -> bool:
    return all(_number(c) is not None for c in cells if c)


def _only(names: list[str], what: str, table: Table) -> str:
    if len(names) != 1:
        raise InputError(
            f"{table.source} has {len(names)} columns that could hold the {what}.",
            f"Name it with --{'value' if what == 'values' else 'group'}.",
        )
    return names[0]
