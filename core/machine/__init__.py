"""From verdict to wrench: the machine, its correction, its log, and the proof that it is fixed."""
