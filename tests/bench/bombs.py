"""Memory and time of a check of each bomb, on top of the bare program.

    python -m tests.bench.bombs

No pass or fail: `tests/test_bombs.py` holds them to its limits.
"""

import tempfile
import zipfile
from pathlib import Path

from tests.workbooks.bombs import BOMBS, measured
from tests.workbooks.make import candidate_workbook


def main():
    """Print a line for each bomb: size, what it unpacks to, memory, time, and the answer."""
    print(f"{'bomb':38} {'file kB':>8} {'unpacked MB':>12} {'peak MB':>8} {'time s':>7}  answer")
    for name, (make, _) in {"none: the plain workbook": (lambda path: path, None),
                            **BOMBS}.items():
        with tempfile.TemporaryDirectory() as folder:
            path = make(candidate_workbook(Path(folder)))
            with zipfile.ZipFile(path) as archive:
                unpacked = sum(part.file_size for part in archive.infolist())
            cost = measured(path)
            answer = "refused" if cost["told"] else "read as if nothing were there"
            print(f"{name:38} {path.stat().st_size / 1e3:8,.0f} {unpacked / 1e6:12,.1f} "
                  f"{cost['mb']:8,.0f} {cost['s']:7.1f}  {answer}")


if __name__ == "__main__":
    main()
