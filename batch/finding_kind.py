"""One kind of finding, and how grave it may be."""

from dataclasses import dataclass

ERROR, WATCH, NOTE = "error", "watch", "note"


@dataclass(frozen=True)
class Kind:
    """One kind of finding: how grave it is, what it means, and how it is mended."""

    severity: str
    title: str
    cause: str
    remedy: str
