"""Names of folders and files, made from names that engineers type."""

import re
import unicodedata

from batch.canonical import digest

LONGEST = 60
RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d")


def one_name(name: str) -> str:
    """The same text for a name however its capitals and blanks are typed, and for both ways in
    which Unicode writes an accent: what tells one study from another."""
    return " ".join(unicodedata.normalize("NFC", name).lower().split())


def look_alike(name: str) -> str:
    """The same text for names that a reader takes for one another: those that differ in no letter
    or digit."""
    letters = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(re.sub(r"[\W_]+", " ", letters).split()) or name


def folder_name(name: str) -> str:
    """The folder of a study: lower-case letters, digits and dashes, which every file system takes.

    A dash stands for a blank. A name with anything else in it, a reserved or a long one gets six
    signs of its hash behind it, so that studies that are not one have folders of their own.
    """
    one = one_name(name)
    plain = re.sub(r"[^a-z0-9]+", "-", one).strip("-")
    is_faithful = plain == one.replace(" ", "-") and "-" not in one
    if is_faithful and plain and len(plain) <= LONGEST and not RESERVED.fullmatch(plain):
        return plain
    return f"{plain[:LONGEST].strip('-') or 'study'}-{digest(one)[:6]}"


def file_name(name: str) -> str:
    """The plain name of a farm's page; one that had to be changed in more than capitals and blanks,
    or is reserved, gets six signs of its hash behind it."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:LONGEST].strip("-")
    is_faithful = plain == re.sub(r"[\s_-]+", "-", name.strip().lower())
    if is_faithful and plain and not RESERVED.fullmatch(plain):
        return plain
    return f"{plain}-{digest(name)[:6]}".lstrip("-")


def farm_file_names(candidate_ids) -> list[str]:
    """A file name for each candidate, no two alike: where two would meet, the later one gets its
    place behind it, as often as it takes."""
    names, seen = [], set()
    for place, candidate in enumerate(candidate_ids, start=1):
        name = file_name(str(candidate)) if candidate else f"row-{place}"
        while name in seen:
            name = f"{name}-{place}"
        seen.add(name)
        names.append(name)
    return names
