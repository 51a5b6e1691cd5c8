"""How old the picture in the buffer is that the next frame is drawn into, as the graphics system itself says.

Sources: the Khronos registry's EGL_EXT_buffer_age (contents are those of so many frames ago, 0: undefined) and EGL 1.5,
3.10.1 (turning the buffers does nothing to a pbuffer, and keeps its contents) and 3.5.6 (EGL_LARGEST_PBUFFER is
written for a pbuffer only).
"""

import ctypes
from collections.abc import Callable
from ctypes.util import find_library
from functools import cache

_EGL_DRAW = 0x3059
_EGL_EXTENSIONS = 0x3055
_EGL_LARGEST_PBUFFER = 0x3058
_EGL_BUFFER_AGE_EXT = 0x313D
_UNTOUCHED = -1


def told_age() -> Callable[[], int]:
    """What says how many frames ago what is in the buffer was drawn: 1 for the last one; 0 where nobody can tell, as
    with every way to a window but EGL. To be asked before the first drawing of a frame."""
    egl = _egl()
    surface = egl.eglGetCurrentSurface(_EGL_DRAW) if egl is not None else None
    if egl is None or not surface:
        return lambda: 0
    display = egl.eglGetCurrentDisplay()
    if _asked(egl, display, surface, _EGL_LARGEST_PBUFFER) != _UNTOUCHED:
        return lambda: 1
    if b"EGL_EXT_buffer_age" not in egl.eglQueryString(display, _EGL_EXTENSIONS).split():
        return lambda: 0

    def age() -> int:
        nonlocal surface
        found = _asked(egl, display, surface, _EGL_BUFFER_AGE_EXT)
        if found == _UNTOUCHED:  # it is told of the current surface only, and another one is that by now
            surface = egl.eglGetCurrentSurface(_EGL_DRAW)
            found = _asked(egl, display, surface, _EGL_BUFFER_AGE_EXT)
        return max(0, found)

    return age


def _asked(egl: ctypes.CDLL, display: int, surface: int | None, attribute: int) -> int:
    value = ctypes.c_int(_UNTOUCHED)
    return value.value if egl.eglQuerySurface(display, surface, attribute, ctypes.byref(value)) else _UNTOUCHED


@cache
def _egl() -> ctypes.CDLL | None:
    """The system's library, the one that SDL has loaded; None where there is none."""
    try:
        egl = ctypes.CDLL(find_library("EGL") or "libEGL.so.1")
    except OSError:
        return None
    egl.eglGetCurrentDisplay.restype = egl.eglGetCurrentSurface.restype = ctypes.c_void_p
    egl.eglQueryString.argtypes = [ctypes.c_void_p, ctypes.c_int]
    egl.eglQueryString.restype = ctypes.c_char_p
    egl.eglQuerySurface.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int, ctypes.POINTER(ctypes.c_int)]
    return egl
