"""A Said, worded in the person's language, units, decimal mark and time zone."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
