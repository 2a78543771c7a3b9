"""Page templates: the program's own, and those in the user's folder that take their place."""

import traceback
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

import jinja2
from jinja2.sandbox import SandboxedEnvironment

from batch.canonical import digest
from batch.findings import StudyError

NEXT = "Mend the template, or leave it out to take the program's own."


@dataclass(frozen=True)
class Templates:
    """The text of every template by name, and the file of each that is the user's own."""

    texts: dict[str, str]
    own: dict[str, Path]

    def hashes(self) -> dict:
        """What the record holds of the user's templates; nothing where there are none."""
        return {"templates": {name: digest(self.texts[name]) for name in sorted(self.own)}} if (
            self.own) else {}


def read_templates(folder: str | Path | None = None) -> Templates:
    """The program's templates, with those of a folder over them.

    Errors: StudyError where the folder cannot be read, holds anything but templates of known
    names, or where a template has a fault of syntax.
    """
    texts = {entry.name: entry.read_text(encoding="utf-8")
             for entry in files("batch.templates").iterdir() if entry.name.endswith(".html")}
    own = {} if folder is None else _own_files(Path(folder), sorted(texts))
    for name, path in own.items():
        try:
            if not path.is_file():
                raise OSError(0, f"'{name}' is no file")
            texts[name] = path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError as fault:
            raise StudyError(f"The template {path} is not UTF-8 text.", NEXT) from fault
        except OSError as fault:
            raise _unreadable(path, fault) from fault
    templates = Templates(texts, own)
    pages = Pages(templates)
    for name in own:
        pages.compile(name)
    return templates


def _own_files(folder: Path, known: list[str]) -> dict[str, Path]:
    """The files of the user's folder by name; hidden ones are of the file system, not of the
    user."""
    try:
        found = {path.name: path for path in sorted(folder.iterdir())
                 if not path.name.startswith(".")}
    except OSError as fault:
        raise _unreadable(folder, fault) from fault
    unknown = [name for name in found if name not in known]
    if unknown or not found:
        what = (f"'{unknown[0]}' in {folder} is no page template" if unknown
                else f"{folder} holds no page template")
        raise StudyError(f"{what}; known names are {', '.join(known)}.",
                         "Use these names, and keep other files elsewhere.")
    return found


def _unreadable(path, fault):
    return StudyError(f"The templates in {path} cannot be read: {fault.strerror or fault}.",
                      "Check the name and the folder's rights.")


@lru_cache(maxsize=4)
def _environment(is_sandbox: bool, templates: tuple) -> jinja2.Environment:
    """What compiles templates of (name, text, place), each once for all runs of a process."""
    by_name = {name: (text, place, lambda: True) for name, text, place in templates}
    kind = SandboxedEnvironment if is_sandbox else jinja2.Environment
    return kind(loader=jinja2.FunctionLoader(by_name.get), autoescape=True,
                undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)


class Pages:
    """Renders templates: unknown names are errors, text is escaped, nothing but the page's own
    values can be reached."""

    def __init__(self, templates: Templates):
        self.templates = templates
        self.places = {name: str(templates.own.get(name, f"batch/templates/{name}"))
                       for name in templates.texts}
        self.environment = _environment(bool(templates.own), tuple(
            (name, text, self.places[name]) for name, text in templates.texts.items()))

    def compile(self, name: str) -> jinja2.Template:
        """A template. Errors: StudyError naming file and line where its syntax is wrong."""
        try:
            return self.environment.get_template(name)
        except jinja2.TemplateSyntaxError as fault:
            raise StudyError(f"The template {fault.filename}, line {fault.lineno}: "
                             f"{fault.message}.", NEXT) from fault
        except (RecursionError, SyntaxError) as fault:  # nested deeper than Python goes
            raise StudyError(f"The template {self.places[name]} is nested too deeply.",
                             NEXT) from fault

    def render(self, name: str, page: dict) -> str:
        """A page. Errors: StudyError naming file and line where a user's template has a fault."""
        try:
            return self.compile(name).render(page)
        except StudyError:
            raise
        except Exception as fault:
            if not self.templates.own:
                raise
            file, line = self._place_of(fault, name)
            message = " ".join(str(fault).split()).rstrip(".") or type(fault).__name__
            raise StudyError(f"The template {file}, line {line}: {message}.", NEXT) from fault

    def _place_of(self, fault, name):
        """File and line of the template in which a fault arose."""
        files_and_lines = [(frame.filename, frame.lineno)
                           for frame in traceback.extract_tb(fault.__traceback__)
                           if frame.filename in self.places.values()]
        return files_and_lines[-1] if files_and_lines else (self.places[name], 1)
