"""A finished document as PDF, set entirely on this computer."""

from __future__ import annotations

import dataclasses
import json
import tempfile
from collections.abc import Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from portwright.errors import ReportError
from portwright.report.document import Block, Document, Photos
from portwright.report.figures import font_folder

Files = dict[str, bytes]
_COMMON = "common.typ"
_NOT_SET = "Save the bundle on the Health screen and show it to whoever helps you."


def render(document: Document) -> bytes:
    """Set a document as PDF.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    files: Files = {}
    sections = [
        {"title": part.title, "blocks": [_block(b, files) for b in part.blocks]}
        for part in document.sections
    ]
    data = {f.name: getattr(document, f.name) for f in dataclasses.fields(document)}
    data |= {
        "facts": [dataclasses.asdict(fact) for fact in document.facts],
        "sections": sections,
        "logo": _file(document.logo, files) if document.logo else "",
    }
    return _set("document.typ", data, files)


def _block(block: Block, files: Files) -> dict[str, Any]:
    kind = type(block).__name__.lower()
    if isinstance(block, Photos):
        items = [{"file": _file(p.jpeg, files), "caption": p.caption} for p in block.items]
        return {"kind": kind, "items": items}
    return {"kind": kind, **dataclasses.asdict(block)}


def _file(data: bytes, files: Files) -> str:
    """Name under which a picture lies beside the template."""
    ending = "png" if data.startswith(b"\x89PNG") else "jpg"
    name = f"picture{len(files)}.{ending}"
    files[name] = data
    return name


def render_work_sheet(
    title: str, lead: str, parts: Sequence[Mapping[str, Any]], drawing: str = ""
) -> bytes:
    """Set a sheet of headed parts for the workshop as PDF.

    Parameters
    ----------
    title, lead : str
        First line, and what it belongs to.
    parts : sequence of mapping
        Title, lines, grid (or None), notes, loud and place of each, as the template reads them.
    drawing : str
        SVG beside the parts that want it, "" for none.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    data = {"title": title, "lead": lead, "parts": list(parts), "drawing": drawing}
    return _set("work_sheet.typ", data, {})


def set_labels(data: Mapping[str, Any]) -> bytes:
    """Set labels as PDF; see the template for what ``data`` holds."""
    return _set("labels.typ", dict(data), {})


def _set(template_name: str, data: dict[str, Any], files: Files) -> bytes:
    templates = resources.files("portwright.report").joinpath("templates")
    try:
        with tempfile.TemporaryDirectory(prefix="portwright-") as folder:
            for name, content in files.items():
                (Path(folder) / name).write_bytes(content)
            for name in (template_name, _COMMON):
                (Path(folder) / name).write_bytes(templates.joinpath(name).read_bytes())
            source = Path(folder) / template_name
            compiler = typst.Compiler(
                source,
                root=folder,
                sys_inputs={"data": json.dumps(data)},
                font_paths=[font_folder()],
                ignore_system_fonts=True,
            )
            pdf = compiler.compile(format="pdf")
    except (RuntimeError, OSError) as error:
        raise ReportError(f"The page could not be set: {error}.", _NOT_SET) from error
    if not isinstance(pdf, bytes):
        raise ReportError("The page could not be set: nothing came out.", _NOT_SET)
    return pdf


def write_bytes(content: bytes, path: Path) -> None:
    """Write a finished file; an older one is replaced only when the new one is complete.

    Raises
    ------
    ReportError
        It cannot be written.
    """
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        raise ReportError(
            f"{path} cannot be written.",
            "Choose a folder that may be written, and close the file if it is open.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
