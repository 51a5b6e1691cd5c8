"""From readings to a verdict: accuracy, adjustment, misreadings, tolerances, decision."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
