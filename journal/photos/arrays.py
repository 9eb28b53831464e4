"""Types of the arrays that photos are worked on as, and numpy, loaded at its first use."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
else:

    class _Numpy:
        """Stands for numpy: a build that measures no photo never pays for loading it."""

        def __getattr__(self, name: str) -> object:
            return getattr(import_module("numpy"), name)

    np = _Numpy()

__all__ = ["Array", "Codes", "Grey", "Mask", "Whole", "np"]

Array: TypeAlias = "NDArray[np.float64]"
Codes: TypeAlias = "NDArray[np.uint8]"
Grey: TypeAlias = "NDArray[np.float32]"
Mask: TypeAlias = "NDArray[np.bool_]"
Whole: TypeAlias = "NDArray[np.int64]"
