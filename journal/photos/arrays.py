"""Types of the arrays that photos are worked on as."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Array: TypeAlias = "NDArray[np.float64]"
Codes: TypeAlias = "NDArray[np.uint8]"
Grey: TypeAlias = "NDArray[np.float32]"
Mask: TypeAlias = "NDArray[np.bool_]"
