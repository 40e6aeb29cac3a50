"""Compiled kernels: numba with an on-disk cache in a folder the user may write to.

Kernels live in modules named `*_kernel.py`, which are imported inside functions because numba takes half a second.
The folder is `NUMBA_CACHE_DIR` where that is set, else the cache folder of the platform. Its name ends with a hash
of all kernel modules: numba itself does not notice that a kernel called from another file has changed.
"""

from __future__ import annotations

import functools
import hashlib
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import subprocess


def cache_base() -> Path:
    """Folder below which compiled kernels are kept; it need not exist."""
    given = os.environ.get("NUMBA_CACHE_DIR")
    if given:
        return Path(given)
    home = Path(os.path.expanduser("~"))
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "cracktie" / "kernels"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "cracktie" / "kernels"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "cracktie" / "kernels"


@functools.cache
def sources_hash() -> str:
    """Hash of the text of every kernel module: other text, other folder."""
    found = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*_kernel.py")):
        found.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return found.hexdigest()[:16]


def is_cold() -> bool:
    """Whether nothing has been compiled yet from the kernels as they are now."""
    return not (cache_base() / sources_hash()).is_dir()


def writable(array: Any) -> Any:
    """The array, or a copy where it is read-only or not contiguous.

    Kernels are compiled anew for read-only arrays, which doubles the time of a first run.
    """
    import numpy as np

    return np.require(array, dtype=float, requirements=["C", "W"])


def kernel(func: Callable[..., Any]) -> Any:
    """Compile `func` on its first call for each set of argument types; releases the interpreter lock.

    Where no folder can be written the kernel is compiled anew in every process.
    """
    import numba

    config: Any = numba.config
    before = config.CACHE_DIR
    config.CACHE_DIR = str(cache_base() / sources_hash())
    try:
        return numba.njit(func, cache=True, nogil=True, error_model="numpy")
    except (RuntimeError, OSError):
        return numba.njit(func, nogil=True, error_model="numpy")
    finally:
        config.CACHE_DIR = before


def compile_apart(folder: Path) -> subprocess.Popen[bytes] | None:
    """On the first run here, compile the kernels in a process of their own while the logs are read.

    Compiling takes longer and more memory than all else, and another process gives the memory back. It predicts the
    same campaign, so that all that is needed is compiled; should it fail, the kernels are compiled here. None where
    they are compiled already.
    """
    import subprocess

    if not is_cold():
        return None
    quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "stdin": subprocess.DEVNULL}
    try:
        return subprocess.Popen([sys.executable, "-m", "cracktie", "predict", str(folder), "--mechanics"], **quiet)
    except OSError:
        return None
