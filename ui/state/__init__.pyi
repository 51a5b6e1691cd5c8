from .messages import Answer as Answer, Command as Command, Report as Report
from .settings import (
    ROTATIONS_DEG as ROTATIONS_DEG,
    SLEEPS_MIN as SLEEPS_MIN,
    Audible as Audible,
    Settings as Settings,
    SettingsFile as SettingsFile,
    Theme as Theme,
)
from .snapshot import (
    BeltsSlice as BeltsSlice,
    InstrumentStatus as InstrumentStatus,
    Judgement as Judgement,
    Live as Live,
    MachinesSlice as MachinesSlice,
    Message as Message,
    PracticeSlice as PracticeSlice,
    Question as Question,
    Snapshot as Snapshot,
    StrangePort as StrangePort,
    Undoable as Undoable,
    UsedCable as UsedCable,
)
from .stick import (
    DesignSlice as DesignSlice,
    DesignSource as DesignSource,
    DesignStage as DesignStage,
    DownloadSlice as DownloadSlice,
    DownloadState as DownloadState,
    DownloadWay as DownloadWay,
    KeepSlice as KeepSlice,
    PreparedDesign as PreparedDesign,
    ShopFile as ShopFile,
    ShopSlice as ShopSlice,
    ShopStage as ShopStage,
    UpdateSlice as UpdateSlice,
    UpdateState as UpdateState,
)
from .work import WorkSlice as WorkSlice
