"""What a process is told before it works: one thread, garbage sought seldom, freed memory given
back."""

import ctypes
import gc
import os
import sys

# From malloc.h of the GNU C library. It raises this limit by itself up to 32 MB, and keeps freed
# blocks below it: a study of 20,000 farms then holds half a gigabyte that it no longer uses.
M_MMAP_THRESHOLD, LIMIT_BYTES = -3, 400_000
OBJECTS_BETWEEN = 20_000  # Python's own 700 seeks garbage hundreds of times as libraries load


def spare_the_processor():
    """Take one thread for linear algebra, whose matrices are too small here to share out, and seek
    garbage seldom: nearly all that a study makes is freed without being sought. To be called before
    numpy is loaded; a number of threads that the user has set stands."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(OBJECTS_BETWEEN)


def give_back_freed_memory():
    """Fix the size from which a block stands alone and is given back; elsewhere than on Linux with
    the GNU C library nothing is done."""
    if sys.platform.startswith("linux"):
        mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
        if mallopt is not None:
            mallopt(M_MMAP_THRESHOLD, LIMIT_BYTES)
