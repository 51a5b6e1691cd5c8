from .exit_status import ExitStatus as ExitStatus
from .harmless_stream import harmless_streams as harmless_streams
from .harmless_stream import steered as steered
from .text_bench import TextBench as TextBench
from .typed_values import seats_argument as seats_argument
from .typed_values import seats_of as seats_of
from .typed_values import size_argument as size_argument
from .verdict import verdict_text as verdict_text
