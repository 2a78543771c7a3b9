"""Memory of large tables goes back to the system when they are freed."""

import ctypes
import sys

# From malloc.h of the GNU C library. It raises this limit by itself up to 32 MB, and keeps freed
# blocks below it: a study of 20,000 farms then holds half a gigabyte that it no longer uses.
M_MMAP_THRESHOLD, LIMIT_BYTES = -3, 400_000


def give_back_freed_memory():
    """Fix the size from which a block stands alone and is given back; elsewhere than on Linux with
    the GNU C library nothing is done."""
    if sys.platform.startswith("linux"):
        mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
        if mallopt is not None:
            mallopt(M_MMAP_THRESHOLD, LIMIT_BYTES)
