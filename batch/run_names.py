"""Names of folders and files, made from names that engineers type."""

import re

from batch.canonical import digest

LONGEST = 60
RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d")


def plain_name(name: str) -> str:
    """A name in lower-case letters, digits and dashes that every file system takes; a long one is
    cut and gets six signs of its hash behind it."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    if not plain or RESERVED.fullmatch(plain):
        return f"study-{digest(name)[:6]}"
    if len(plain) <= LONGEST:
        return plain
    # Cut names that begin alike, as those of a study and its scenarios do, must not meet.
    return f"{plain[:LONGEST].strip('-')}-{digest(name)[:6]}"


def file_name(name: str) -> str:
    """A plain name that no other name shares.

    A name that had to be changed in more than capitals and blanks, or is reserved, gets six signs
    of its hash behind it, so that two names never meet in one file.
    """
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:LONGEST].strip("-")
    is_faithful = plain == re.sub(r"[\s_-]+", "-", name.strip().lower())
    if is_faithful and plain and not RESERVED.fullmatch(plain):
        return plain
    return f"{plain}-{digest(name)[:6]}".lstrip("-")


def farm_file_names(candidate_ids) -> list[str]:
    """A file name for each candidate; where two would meet, the later ones get their place."""
    names, seen = [], set()
    for place, candidate in enumerate(candidate_ids):
        name = file_name(str(candidate)) if candidate else f"row-{place + 1}"
        if name in seen:
            name = f"{name}-{place + 1}"
        seen.add(name)
        names.append(name)
    return names
