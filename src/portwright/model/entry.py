"""What is entered on a job day by day: work, hours, parts, questions to the customer, bills."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class EntryKind(StrEnum):
    """What an entry says."""

    OPERATION = "operation"  # work to be done, with the hours quoted for it
    START = "start"  # somebody begins it
    STOP = "stop"  # and stops
    HOURS = "hours"  # worked without the clock
    PART = "part"
    HOLD = "hold"  # work waits for the customer's yes
    ANSWER = "answer"  # what the customer said, when and how
    QUOTE = "quote"
    INVOICE = "invoice"
    RELEASE = "release"  # the customer lets name or serial numbers be shown
    OBSERVATION = "observation"  # what was seen on a part, apart from what is suspected
    MARKS = "marks"  # arrows, rings and words on a photo
    WITHDRAWN = "withdrawn"  # takes the entry it replaces back


@dataclass(frozen=True, slots=True)
class JobEntry:
    """One entry; never changed, only followed by one that replaces it.

    Parameters
    ----------
    key : str
        Unique in the job.
    kind : EntryKind
    at : str
        When it was entered, UTC.
    cells : dict of str to str
        Everything it says, amounts and hours as decimal text.
    author : str
    replaces : str
        Key of the entry this one corrects, "" for none.
    """

    key: str
    kind: EntryKind
    at: str = ""
    cells: dict[str, str] = field(default_factory=dict)
    author: str = ""
    replaces: str = ""
