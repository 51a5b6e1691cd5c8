"""What is kept: session events, the archive, and the files that leave the bench."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
