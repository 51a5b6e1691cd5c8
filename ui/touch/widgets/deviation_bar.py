"""The deviation of what is under the jaws, on a bar whose limits always lie in the same places.

What moves with every indication is moved, never drawn anew: one pointer, one row of figures.
"""

from kivy.app import App
from kivy.graphics import Canvas, Color, Line, Mesh, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty

from core.said import NOTHING
from ui.touch.widgets.basics import Bounded, Bounds, Drawn
from ui.touch.widgets.lettering import write

# The bar reaches to this many limits on either side: what is farther off waits at its end.
REACH = 2.0
# The pointer's way is told in whole steps: it comes to the same ones again and again.
STEP_PX = 16


class Pointer(Bounded):
    """A triangle that stands on its tip above the bar; moved, never drawn anew."""

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._bounds = self._pointed = super().bounds  # of its whole way, and of itself from its middle
        # Where it has stood since that was asked for, px; None: more than it has changed.
        self._swept: tuple[float, float] | None = None
        self._is_shown = False
        with self.canvas:
            PushMatrix()
            self._shift = Translate()
            self._ink = Color(0, 0, 0, 0)
            self._shape = Mesh(mode="triangles", indices=[0, 1, 2])
            PopMatrix()

    @property
    def bounds(self) -> Bounds:
        """Its whole way."""
        return self._bounds

    def take_changed(self) -> Bounds | None:
        """Where it has stood, from the one end to the other; None where more has changed."""
        swept, stands = self._swept, self._shift.x
        self._swept = stands, stands
        if swept is None:
            return None
        left, low, right, high = self._pointed
        first, last = swept[0] // STEP_PX * STEP_PX, (swept[1] // STEP_PX + 1) * STEP_PX
        return left + first, low, right + last, high

    def lay(self, tip: float, scale: float, way: tuple[float, float], ink: tuple[float, ...]) -> None:
        """Its tip at this height, for this way of it, px."""
        end, side = tip + 20 * scale, 13 * scale
        self._ink.rgb = ink[:3]
        self._shape.vertices = [0, tip, 0, 0, -side, end, 0, 0, side, end, 0, 0]
        self._pointed, self._swept = (-side, tip, side, end), None
        self._bounds = way[0] - side, tip, way[1] + side, end

    def stand(self, x: float | None) -> None:
        """There, px; None for nowhere."""
        if self._is_shown is (x is None):  # an instruction that is set is drawn again even when nothing changed
            self._is_shown = x is not None
            self._ink.a = float(self._is_shown)
        if x is None:
            return
        self._shift.x = x
        if self._swept is not None:
            left, right = self._swept
            self._swept = min(left, x), max(right, x)


class DeviationBar(Drawn):
    """`share` is the deviation over the limit, None while there is none: then the bar is empty. `low` and `high` are
    written at the limits."""

    shows = ("low", "high", "limited")
    share = NumericProperty(None, allownone=True)
    low = ObjectProperty(NOTHING)
    high = ObjectProperty(NOTHING)
    limited = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._zero = self._limit = 0.0  # where the pointer stands at no deviation, and how far off at the limit, px
        # Groups of their own: what stands still is drawn with the pointer only where it reaches into its way.
        self._ground, self._letters, self._middle = Canvas(), Canvas(), Canvas()
        for group in (self._ground, self._letters, self._middle):
            self.canvas.add(group)
        self._pointer = Pointer()
        self.add_widget(self._pointer)
        self.fbind("share", self._place)
        self._redraw()

    def _redraw(self, *_changed: object) -> None:
        app = App.get_running_app()
        scale, palette = app.scale, app.palette
        middle, axis, half = self.x + self.width / 2, self.y + self.height * 0.5, self.width / 2 / REACH
        for group in (self._ground, self._letters, self._middle):
            group.clear()
        with self._ground:
            Color(*palette.rule)
            Rectangle(pos=(self.x, axis - 6 * scale), size=(self.width, 12 * scale))
            if self.limited:
                Color(*palette.zone)
                Rectangle(pos=(middle - half, axis - 9 * scale), size=(2 * half, 18 * scale))
        with self._letters:
            if self.limited:
                Color(*palette.quiet)
                for side, text in ((-1, self.low), (1, self.high)):
                    write(text, middle + side * half, axis - 24 * scale, 17 * scale, centred=True)
        with self._middle:
            Color(*palette.ink)
            Line(points=(middle, axis - 14 * scale, middle, axis + 14 * scale), width=1.2 * scale)
        self._zero, self._limit = middle, half
        self._pointer.lay(axis + 10 * scale, scale, (self.x, self.right), palette.ink)
        self._place()

    def _place(self, *_changed: object) -> None:
        share = self.share
        self._pointer.stand(None if share is None else self._zero + self._limit * max(-REACH, min(REACH, share)))
