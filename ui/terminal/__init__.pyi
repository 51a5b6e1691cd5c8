from .exit_status import ExitStatus as ExitStatus
from .harmless_stream import harmless_streams as harmless_streams, steered as steered
from .text_bench import TextBench as TextBench
from .typed_values import (
    seats_argument as seats_argument,
    seats_of as seats_of,
    size_argument as size_argument,
    typed_number as typed_number,
)
from .verdict import verdict_text as verdict_text
