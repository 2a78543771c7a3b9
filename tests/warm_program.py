"""The program for tests that need a process of its own for each of many calls: one process loads
the libraries once, runs one command itself, which reads tables, units and fonts, and forks for each
call, whose child goes on to the end as `python -m batch` does once these are there. To get them
takes longer than most calls."""

import gc
import json
import os
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
LARGEST_CALL_BYTES = 100_000


class WarmProgram:
    """Calls commands of the program, each in a process of its own."""

    def __init__(self, *first):
        """`first` are the words of the command that is run beforehand."""
        self.calls, theirs = socket.socketpair()
        with theirs:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "tests.warm_program", str(theirs.fileno()),
                 *map(str, first)], cwd=ROOT, pass_fds=[theirs.fileno()],
                stdout=subprocess.DEVNULL)

    def __call__(self, *args, stdout=None, stderr=None) -> subprocess.CompletedProcess:
        """The exit code, and what was printed where no file is given for it."""
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
            streams = [out.fileno() if stdout is None else stdout,
                       err.fileno() if stderr is None else stderr]
            socket.send_fds(self.calls, [json.dumps(list(map(str, args))).encode()], streams)
            code = json.loads(self.calls.recv(100))
            said = [file.seek(0) or file.read() for file in (out, err)]
        return subprocess.CompletedProcess(args, code, *said)

    def close(self):
        """No more calls: the process ends."""
        self.calls.close()
        self.process.wait(60)


def answer(calls: socket.socket):
    """Fork for each call until there are no more; a child returns from here into its call."""
    while True:
        text, streams, _, _ = socket.recv_fds(calls, LARGEST_CALL_BYTES, 2)
        if not text:
            return None
        child = os.fork()
        if child == 0:
            calls.close()
            for number, stream in enumerate(streams, start=1):
                os.dup2(stream, number)
                os.close(stream)
            sys.stdout = sys.__stdout__ = open(1, "w", closefd=False)  # as a process begins
            sys.stderr = sys.__stderr__ = open(2, "w", errors="backslashreplace", closefd=False)
            return json.loads(text)
        for stream in streams:
            os.close(stream)
        calls.send(json.dumps(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])).encode())


if __name__ == "__main__":
    from batch.memory import spare_the_processor

    spare_the_processor()
    from batch.audit import audit_text, compare, explain, rerun  # noqa: F401
    from batch.cli import main
    from batch.writing import catalogue, dictionary  # noqa: F401
    from batch.writing.workbook import blank  # noqa: F401

    main(sys.argv[2:], standalone_mode=False)
    gc.collect()
    gc.freeze()  # a child that ends does not look through all that was loaded
    called = answer(socket.socket(fileno=int(sys.argv[1])))
    if called is not None:
        sys.argv[1:] = called
        main()
