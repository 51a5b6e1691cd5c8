"""The deviation of what is under the jaws, on a bar whose limits always lie in the same places.

What moves with every indication is moved, never drawn anew: one pointer, one row of figures.
"""

from kivy.app import App
from kivy.graphics import Color, Line, Mesh, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty

from core.said import NOTHING
from ui.touch.widgets.basics import Bounded, Bounds, Drawn
from ui.touch.widgets.lettering import half_height, write

# The bar reaches to this many limits on either side: what is farther off waits at its end.
REACH = 2.0


class DeviationBar(Drawn, Bounded):
    """`share` is the deviation over the limit, None while there is none: then the bar is empty. `low` and `high` are
    written at the limits."""

    shows = ("low", "high", "limited")
    share = NumericProperty(None, allownone=True)
    low = ObjectProperty(NOTHING)
    high = ObjectProperty(NOTHING)
    limited = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._bounds = self._pointed = super().bounds  # of it all, and of the pointer from its middle
        # Where the pointer has stood since that was asked for, px; None: more than it has changed.
        self._swept: tuple[float, float] | None = None
        self._zero = self._limit = 0.0  # where the pointer stands at no deviation, and how far off at the limit, px
        self._is_shown = False
        with self.canvas.after:
            PushMatrix()
            self._shift = Translate()
            self._pointer_ink = Color(0, 0, 0, 0)
            self._pointer = Mesh(mode="triangles", indices=[0, 1, 2])
            PopMatrix()
        self.fbind("share", self._place)
        self._redraw()

    @property
    def bounds(self) -> Bounds:
        """Its box, the pointer that stands half out of it at either end, and the letters below."""
        return self._bounds

    def take_changed(self) -> Bounds | None:
        """Where the pointer has stood, from the one end to the other; None where more has changed."""
        swept, stands = self._swept, self._shift.x
        self._swept = stands, stands
        if swept is None:
            return None
        left, low, right, high = self._pointed
        return left + swept[0], low, right + swept[1], high

    def _redraw(self, *_changed: object) -> None:
        app = App.get_running_app()
        scale, palette = app.scale, app.palette
        self.canvas.clear()
        axis, half = self.y + self.height * 0.5, self.width / 2 / REACH
        with self.canvas:
            Color(*palette.rule)
            Rectangle(pos=(self.x, axis - 6 * scale), size=(self.width, 12 * scale))
            if self.limited:
                Color(*palette.zone)
                Rectangle(pos=(self.x + self.width / 2 - half, axis - 9 * scale), size=(2 * half, 18 * scale))
                Color(*palette.quiet)
                for side, text in ((-1, self.low), (1, self.high)):
                    write(text, self.x + self.width / 2 + side * half, axis - 24 * scale, 17 * scale, centred=True)
            Color(*palette.ink)
            middle = self.x + self.width / 2
            Line(points=(middle, axis - 14 * scale, middle, axis + 14 * scale), width=1.2 * scale)
        self._zero, self._limit = middle, half
        tip, end, side = axis + 10 * scale, axis + 30 * scale, 13 * scale
        self._pointer_ink.rgb = palette.ink[:3]
        self._pointer.vertices = [0, tip, 0, 0, -side, end, 0, 0, side, end, 0, 0]
        left, low, right, high = super().bounds
        below = axis - 24 * scale - half_height(17 * scale)
        self._bounds = left - 14 * scale, min(low, below), right + 14 * scale, high
        self._pointed, self._swept = (-side, tip, side, end), None
        self._place()

    def _place(self, *_changed: object) -> None:
        share = self.share
        if self._is_shown is (share is None):  # an instruction that is set is drawn again even when nothing changed
            self._is_shown = share is not None
            self._pointer_ink.a = float(self._is_shown)
        if share is None:
            return
        stands = self._shift.x = self._zero + self._limit * max(-REACH, min(REACH, share))
        if self._swept is not None:
            left, right = self._swept
            self._swept = min(left, stands), max(right, stands)
