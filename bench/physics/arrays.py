"""The arrays that calculations work on."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Whole: TypeAlias = NDArray[np.intp]
Flags: TypeAlias = NDArray[np.bool_]
