"""How every command ends: with what it has to tell, or one sentence, and an exit code.

0 done, or same; 1 with --strict, where a row is not assessed, and for rerun and compare where
something differs; 2 wrong usage; 3 the command cannot go on, for instance because the workbook
cannot be studied; 4 a fault of the program; 130 stopped by hand. Nothing else ends with 1.
"""

import io
import os
import sys
import traceback
from contextlib import suppress
from pathlib import Path

import click

from batch.shown_text import cleaned, in_one_line
from batch.study_error import StudyError

DONE, NOT_ASSESSED, DIFFERENT, WRONG_USAGE, CANNOT_GO_ON, OWN_FAULT, BY_HAND = 0, 1, 1, 2, 3, 4, 130
PRINTED_LAST = ("Check the disk, or the program that reads it; files are written before anything "
                "is printed.")
PACKAGE = Path(__file__).parent


def say(text: str, *, nl: bool = True, err: bool = False):
    """Print a text: the one place where anything reaches a terminal.

    Errors: StudyError where it cannot be printed.
    """
    stream = sys.stderr if err else sys.stdout
    try:
        if stream is None:
            raise OSError(0, "it is closed")
        click.echo(cleaned(text), nl=nl, file=stream)
        stream.flush()
    except (OSError, ValueError) as fault:
        _forget(stream)
        reason = getattr(fault, "strerror", None) or fault
        raise StudyError(f"The output cannot be printed: {reason}.", PRINTED_LAST) from fault


def _forget(stream):
    """What is left in a stream that takes nothing more would fail again when Python ends."""
    with suppress(Exception):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _say_why(text: str):
    """Print the sentence with which a command stops, where there is anybody to read it."""
    with suppress(StudyError):
        say(text, err=True)


class Commands(click.Group):
    """A group of commands of which each ends as this module says, whatever happens. A command
    returns its exit code, None for done."""

    def main(self, *args, standalone_mode=True, **more):
        for stream in (sys.stdout, sys.stderr):  # a sign that a code page lacks is no fault
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="backslashreplace")
        call = super().main
        if not standalone_mode:
            return call(*args, standalone_mode=False, **more)
        try:
            code = _exit_code(lambda: call(*args, standalone_mode=False, **more))
        except StudyError as stop:
            _say_why(f"Cannot go on: {in_one_line(stop)}")
            code = CANNOT_GO_ON
        for stream in (sys.stdout, sys.stderr):
            try:
                stream.flush()
            except (AttributeError, OSError, ValueError):
                _forget(stream)
        sys.exit(code)


def _exit_code(command) -> int:
    """The exit code of a command. Errors: StudyError where it cannot go on."""
    try:
        return command() or DONE
    except SystemExit as end:  # click's own, where its help meets a pipe that is closed
        if end.code:
            raise StudyError("The output cannot be printed.", PRINTED_LAST) from end
        return DONE
    except click.ClickException as fault:
        usage = io.StringIO()
        fault.show(usage)
        _say_why(usage.getvalue().rstrip("\n"))
        return WRONG_USAGE
    except (click.Abort, KeyboardInterrupt):
        _say_why("Stopped by hand: a run folder is there whole, or as it was.")
        return BY_HAND
    except StudyError:
        raise
    except OSError as fault:
        where = f"'{fault.filename}': " if fault.filename else ""
        raise StudyError(f"{where}{fault.strerror or fault}.",
                         "Check names, rights and the disk.") from fault
    except MemoryError as fault:
        raise StudyError("There is not enough memory.",
                         "Close other programs, or study fewer farms at once.") from fault
    except Exception as fault:
        _say_why(f"Fault of the program at {_where(fault)}: {type(fault).__name__}: "
                 f"{in_one_line(fault)[:300]}. Please report this line with the command and its "
                 "files.")
        return OWN_FAULT


def _where(fault: Exception) -> str:
    """The last line of this program on the way to a fault."""
    frames = [frame for frame in traceback.extract_tb(fault.__traceback__)
              if Path(frame.filename).is_relative_to(PACKAGE)]
    if not frames:
        return "outside of its own files"
    return f"{Path(frames[-1].filename).relative_to(PACKAGE.parent)}, line {frames[-1].lineno}"
