"""How long a test waits for another thread or program: as long as ends a hang, for a busy machine fails nothing."""

WAIT_S = 60.0
