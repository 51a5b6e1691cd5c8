"""From verdict to wrench: the machine, its correction, its log, and the proof that it is fixed."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
