"""Exit statuses of every command; the numbers from 64 on are those of sysexits.h."""

from __future__ import annotations

from enum import IntEnum

from core.metrology import Verdict


class ExitStatus(IntEnum):
    """Verdict commands end with the first four; other commands with OK or one of the last four."""

    OK = 0
    GO = 0
    NO_GO = 1
    UNDECIDED = 2
    INCONSISTENT = 3
    USAGE = 64
    BAD_INPUT = 65
    NOT_AVAILABLE = 69
    INTERNAL = 70

    @classmethod
    def of_verdict(cls, verdict: Verdict) -> ExitStatus:
        """The status that says this verdict."""
        match verdict:
            case Verdict.GO:
                return cls.GO
            case Verdict.NO_GO:
                return cls.NO_GO
            case Verdict.UNDECIDED:
                return cls.UNDECIDED
            case Verdict.INCONSISTENT:
                return cls.INCONSISTENT
