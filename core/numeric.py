"""numpy, loaded when something is first worked out: a bench without a coupon shows its first screen without it.

`np` is numpy to whoever reads or checks the code. Nothing may be worked out while a module is loaded.
"""

from typing import TYPE_CHECKING, Any

__all__ = ["FloatArray", "load_numpy", "np"]

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
else:
    FloatArray = Any

    class _Numpy:
        """Each of its names is looked up once; importing is Python's to do once, whichever thread comes first."""

        def __getattr__(self, name: str) -> Any:
            import numpy

            found = getattr(numpy, name)
            setattr(self, name, found)
            return found

    np = _Numpy()


def load_numpy() -> None:
    """Load it before anybody waits for it."""
    import numpy  # noqa: F401
