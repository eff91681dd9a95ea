"""numba, imported without what the kernel does not use.

numba asks scipy for its linear algebra when it starts, which takes a fifth of a second; the kernel
has none. The module that numba would import is marked as absent for the moment of asking. numba
functions of this process can then not multiply matrices; nobody here asks them to.
"""

from __future__ import annotations

import sys

_LINEAR_ALGEBRA = "scipy.linalg.cython_blas"

if _LINEAR_ALGEBRA in sys.modules:
    import numba
else:
    sys.modules[_LINEAR_ALGEBRA] = None  # type: ignore[assignment]
    import numba
    import numba.np.arraymath  # asks for it now

    del sys.modules[_LINEAR_ALGEBRA]

__all__ = ["numba"]
