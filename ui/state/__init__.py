"""Frozen values, no behaviour: the snapshot and its slices, what goes into the queue, settings.

Below, what others may use.
"""

from ui.state.messages import Answer, Command, Report
from ui.state.settings import ROTATIONS_DEG, SLEEPS_MIN, Settings, SettingsFile, Theme
from ui.state.snapshot import (
    BeltsSlice,
    InstrumentStatus,
    Judgement,
    Live,
    MachinesSlice,
    Message,
    PracticeSlice,
    Question,
    Snapshot,
    StrangePort,
    TakenReading,
    UsedCable,
)
from ui.state.stick import (
    DesignSlice,
    DesignSource,
    DesignStage,
    DownloadSlice,
    DownloadState,
    DownloadWay,
    PreparedDesign,
    UpdateSlice,
    UpdateState,
)
