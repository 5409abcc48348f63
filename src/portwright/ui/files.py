"""Files made for the browser: shown in place, under a name that every system can keep."""

from __future__ import annotations

from starlette.responses import Response


def file_answer(content: bytes, media_type: str, name: str, *, save: bool = False) -> Response:
    """A finished file.

    Parameters
    ----------
    name : str
        Suggested file name; signs that some system refuses become "_".
    save : bool
        To be kept rather than looked at.
    """
    plain = "".join(c if (c.isascii() and c.isalnum()) or c in "-_." else "_" for c in name)
    how = "attachment" if save else "inline"
    return Response(
        content,
        media_type=media_type,
        headers={"Content-Disposition": f'{how}; filename="{plain}"'},
    )
