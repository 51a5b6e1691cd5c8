from .byte_link import (
    FaultSeen as FaultSeen,
    IndicationArrived as IndicationArrived,
    InstrumentLink as InstrumentLink,
    LinkChanged as LinkChanged,
    LinkEvent as LinkEvent,
    LinkState as LinkState,
)
from .cable_link import words_for as words_for
from .decoders.ascii_lines import AngleRange as AngleRange, Axis as Axis
from .decoders.binary_24bit import LAYOUT_IN_WORDS as LAYOUT_IN_WORDS, LAYOUTS as LAYOUTS
from .decoders.packet_lines import MOST_BYTES as MOST_BYTES, PacketLayout as PacketLayout, packets_in as packets_in
from .discovery import (
    LISTENING as LISTENING,
    PlugWatch as PlugWatch,
    Port as Port,
    Recognition as Recognition,
    last_named as last_named,
    plugged_in as plugged_in,
    radio_ports as radio_ports,
    recognise as recognise,
)
from .focused_keyboard import FocusedKeyboard as FocusedKeyboard
from .instrument_settings import (
    HID as HID,
    RADIO as RADIO,
    Capture as Capture,
    GaugeKind as GaugeKind,
    HoldSettings as HoldSettings,
    InstrumentSettings as InstrumentSettings,
    RadioPlace as RadioPlace,
    Sends as Sends,
)
from .layout_proof import (
    Frame as Frame,
    frames_in as frames_in,
    proven_layouts as proven_layouts,
    the_proven_one as the_proven_one,
)
from .links import make_link as make_link
from .packet_proof import Opening as Opening, proven_packet_layout as proven_packet_layout
from .recognition import (
    ANGLE_HOLD as ANGLE_HOLD,
    POLL_S as POLL_S,
    Candidate as Candidate,
    free_name as free_name,
    offered_settings as offered_settings,
)
from .recording import Recorder as Recorder, ReplayLink as ReplayLink, played as played, read_capture as read_capture
from .settings_store import SettingsStore as SettingsStore
from .simulation.gantry import Gantry as Gantry
from .simulation.operator import Wanted as Wanted
from .simulation.workshop import (
    COUPON as COUPON,
    MACHINE as MACHINE,
    Scenario as Scenario,
    SimulatedWorkshop as SimulatedWorkshop,
    scenario as scenario,
)
from .steady_hold import NOT_HELD as NOT_HELD, HoldStep as HoldStep, SteadyHold as SteadyHold
from .tilt_corner import TiltCorner as TiltCorner
from .wire_formats import (
    WIRE_FORMATS as WIRE_FORMATS,
    DecoderOptions as DecoderOptions,
    Framing as Framing,
    Parity as Parity,
    WireFormat as WireFormat,
    wire_format as wire_format,
)
