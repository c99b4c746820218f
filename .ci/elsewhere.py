"""Run the notebooks and the tests of pictures once more, as another processor would compute them.

    python .ci/elsewhere.py              workbook, tests/figures and tests/notebooks/test_pictures.py
    python .ci/elsewhere.py WORDS ...    any other words for pytest

The wide instructions of this processor are taken from numpy and from the C library, and the linear
algebra and the compiled model are given the code of an older processor.  Sums then end in other last
digits, which no word and no picture may show.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# The pages of practice print whole marks and rounded numbers of drawn items: they are left out for time.
PARTS = ["workbook", "--ignore=workbook/practice", "tests/figures", "tests/notebooks/test_pictures.py"]
OLD_CORES = {"x86_64": "Nehalem", "AMD64": "Nehalem", "aarch64": "ARMV8", "arm64": "ARMV8"}
_OWN = ("NPY_DISABLE_CPU_FEATURES", "OPENBLAS_CORETYPE", "GLIBC_TUNABLES", "NUMBA_CPU_NAME")
# What this numpy has in more than one form and this processor can do: no other name may be switched off.
_FIND_WIDE = """
from numpy._core import _multiarray_umath as core
print(*[name for name in core.__cpu_dispatch__ if core.__cpu_features__.get(name)])
"""
# Digits of the C library, of numpy and of linear algebra.
_COMPUTE = """
import math
import zlib
import numpy as np
x = np.linspace(0.1, 9.7, 20_000)
powers = np.vander(x[:60] / 9, 20)
parts = {
    "the C library": [[math.exp(value), math.sin(value), value**1.3] for value in x.tolist()],
    "numpy": np.concatenate([np.exp(x), np.sin(x), x**1.3]),
    "linear algebra": np.linalg.lstsq(powers, x[:60])[0],
}
print(*[f"{name} {zlib.crc32(np.asarray(values).tobytes())}" for name, values in parts.items()], sep="\\n")
"""


def main() -> int:
    """Say what is different here, then run the tests so."""
    here = {name: value for name, value in os.environ.items() if name not in _OWN}
    wide = _ask(_FIND_WIDE, here)
    elsewhere = {**here, "NPY_DISABLE_CPU_FEATURES": wide} if wide else dict(here)
    if core := OLD_CORES.get(platform.machine()):
        elsewhere["OPENBLAS_CORETYPE"] = core
    if platform.machine() in ("x86_64", "AMD64"):
        elsewhere["GLIBC_TUNABLES"] = "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX512F"
    elsewhere["NUMBA_CPU_NAME"] = "generic"
    here_said, there_said = (_ask(_COMPUTE, place).splitlines() for place in (here, elsewhere))
    differ = [said.rpartition(" ")[0] for said in there_said if said not in here_said]
    print(f"As another processor: numpy without {wide or 'nothing'}, linear algebra as {core or 'here'}.")
    print(f"Other last digits than here: {', '.join(differ) or 'none'}.", flush=True)
    # Once, and not by each worker at the same time.
    compiled = [sys.executable, "-c", "from bench.warm import compile_model; compile_model()"]
    subprocess.run(compiled, cwd=ROOT, env=elsewhere, check=True)
    words = sys.argv[1:] or PARTS
    return subprocess.run(
        [sys.executable, "-m", "pytest", *words], cwd=ROOT, env=elsewhere, check=False
    ).returncode


def _ask(code: str, environment: dict[str, str]) -> str:
    """Give what a fresh interpreter prints."""
    words = [sys.executable, "-W", "error", "-c", code]
    return subprocess.run(words, env=environment, check=True, capture_output=True, text=True).stdout.strip()


if __name__ == "__main__":
    sys.exit(main())
