"""A shop of benches: the way of this bench's records to a database that several benches share, and of theirs to here.

Nothing of it runs in the bench's own program, which has no network. `access`: where the shop is,
and as whom; `server`: what is asked of it; `courier`: what goes there and what comes; `keeping`: the database itself.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
