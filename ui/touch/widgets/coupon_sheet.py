"""The drawing of the coupon: every edge, diagonal and corner is its own button, value and tolerance in its place.

Two layers: the drawing, redrawn when readings or cursors change, and the live arrow, moved with every indication.
"""

from __future__ import annotations

from kivy.app import App
from kivy.graphics import Canvas
from kivy.input.motionevent import MotionEvent
from kivy.properties import NumericProperty
from kivy.uix.relativelayout import RelativeLayout

from core.geometry.features import DIAGONALS, EDGES, Feature, FeatureKind
from core.metrology.verdict import Verdict
from core.said import Name, Part, lines, said
from ui.pages.callouts import Callout, callouts, zone_limit
from ui.pages.live_cursor import LiveCursor
from ui.state.snapshot import Snapshot
from ui.touch.widgets.basics import Spoken
from ui.touch.widgets.coupon_strokes import clear_ground, draw_coupon, draw_live
from ui.touch.widgets.sheet_geometry import Sheet, corner_deviations_mm, lay_out, least_area_height_px

_SHORT_NAME = {
    Feature.NEAR: said("near"),
    Feature.RIGHT: said("right"),
    Feature.FAR: said("far"),
    Feature.LEFT: said("left"),
    Feature.WINDOW_WIDTH: said("inner X"),
    Feature.WINDOW_HEIGHT: said("inner Y"),
}
_BOX_PX = {
    FeatureKind.EDGE: (64, 32),
    FeatureKind.DIAGONAL: (62, 32),
    FeatureKind.CORNER: (56, 42),
    FeatureKind.WINDOW: (64, 32),
}
_LETTER_PX = {FeatureKind.CORNER: 17, FeatureKind.WINDOW: 16}


class CouponSheet(RelativeLayout):
    """Shows a snapshot; dispatches `on_choose` with the feature a finger meant."""

    __events__ = ("on_choose",)
    least_height = NumericProperty(0.0)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self.sheet: Sheet | None = None
        self._snapshot: Snapshot | None = None
        self._live: LiveCursor | None = None
        self._drawn: object = None
        self._cursors: tuple[Feature | None, ...] = ()
        self._drawing, self._live_layer = Canvas(), Canvas()
        self.canvas.add(self._drawing)
        self._labels = {feature: Spoken(size_hint=(None, None), bold=True, halign="center") for feature in Feature}
        self._factor_label = Spoken(halign="center", size_hint=(None, None))
        for label in (*self._labels.values(), self._factor_label):
            self.add_widget(label)
        self.canvas.add(self._live_layer)
        self.fbind("size", self._redraw)
        App.get_running_app().bind(palette=self._redraw)

    def on_choose(self, feature: Feature) -> None:
        """A feature was touched; screens bind to this."""

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Choose the feature under the finger."""
        if self.sheet is None or touch.is_mouse_scrolling or not self.collide_point(*touch.pos):
            return super().on_touch_down(touch)
        feature = self.sheet.target_at(self.to_local(*touch.pos))
        if feature is not None:
            self.dispatch("on_choose", feature)
        return True

    def show(self, snapshot: Snapshot, live: LiveCursor | None) -> None:
        """Draw what changed; without a live cursor the drawing is a result, and no feature is up."""
        self._snapshot = snapshot
        if snapshot.coupon is not None:
            app = App.get_running_app()
            self.least_height = least_area_height_px(snapshot.coupon, app.scale, app.target)
        self._cursors = (snapshot.next_length, snapshot.next_corner) if live else ()
        shown = callouts(snapshot, self._cursors)
        drawn = (snapshot.coupon, snapshot.limits, snapshot.evaluation, snapshot.mark_confirmed, shown)
        if drawn != self._drawn:
            self._drawn = drawn
            self._live = live
            self._redraw()
        elif live != self._live:
            self._live = live
            self._draw_live()

    def _redraw(self, *_changed: object) -> None:
        snapshot = self._snapshot
        self._drawing.clear()
        self.sheet = self._lay_out(snapshot) if snapshot is not None else None
        shown = snapshot.coupon.features if snapshot is not None and snapshot.coupon is not None and self.sheet else ()
        for feature, label in self._labels.items():
            label.opacity = 1 if feature in shown else 0
        self._factor_label.opacity = 1 if self.sheet else 0
        if snapshot is not None and self.sheet is not None:
            with self._drawing:
                draw_coupon(self.sheet, snapshot, App.get_running_app().palette, self._cursors)
            for callout in callouts(snapshot, self._cursors):
                self._write(self.sheet, callout)
            self._write_factor(self.sheet)
        self._draw_live()

    def _lay_out(self, snapshot: Snapshot) -> Sheet | None:
        """None without a coupon, and while Kivy has not given the widget its size yet."""
        if snapshot.coupon is None or min(self.size) < 150:
            return None
        largest = 0.0
        if snapshot.evaluation is not None and snapshot.evaluation.verdict is not Verdict.INCONSISTENT:
            deviations = corner_deviations_mm(snapshot.evaluation.adjustment).values()
            largest = max(max(abs(part) for part in deviation) for deviation in deviations)
        limits = [zone_limit(snapshot, feature) for feature in EDGES + DIAGONALS]
        return lay_out(
            snapshot.coupon,
            tuple(self.size),
            scale=App.get_running_app().scale,
            target_px=App.get_running_app().target,
            limit_mm=max((limit for limit in limits if limit is not None), default=None),
            deviation_mm=largest,
        )

    def _write(self, sheet: Sheet, callout: Callout) -> None:
        """Write the value beside what it measures; unread features carry their name."""
        app, feature = App.get_running_app(), callout.feature
        label = self._labels[feature]
        name = _SHORT_NAME.get(feature, Name(feature.value.upper()))
        if feature.kind is FeatureKind.CORNER:
            text: Part = lines(name, Name(callout.text))
        else:
            text = Name(callout.text) if callout.count else name
        centre = sheet.label_centre(feature)
        box = tuple(part * app.scale for part in _BOX_PX[feature.kind])
        label.canvas.before.clear()
        with label.canvas.before:
            ink = clear_ground(centre, box, callout, app.palette)
        label.text, label.color, label.font_size = text, ink, app.scale * _LETTER_PX.get(feature.kind, 18)
        label.size, label.center = box, centre

    def _write_factor(self, sheet: Sheet) -> None:
        """The factor stands inside the coupon, below its far edge; and that a strip is not as slender as it is."""
        app, label = App.get_running_app(), self._factor_label
        factor: Part
        deviations = said("deviations × {factor}", factor=sheet.factor)
        if sheet.in_proportion:
            factor, count = deviations, 1
        elif sheet.window is None:
            factor, count = lines(deviations, said("not to scale")), 2
        else:  # only one line stands clear of the window
            factor, count = said("× {factor}, not to scale", factor=sheet.factor), 1
        label.text, label.color = factor, app.palette.ink
        label.font_size, label.size = app.scale * 16, (app.scale * 150, app.scale * 20 * count)
        label.center = sheet.left + sheet.width / 2, sheet.bottom + sheet.height - app.scale * (6 + 10 * count)

    def _draw_live(self) -> None:
        self._live_layer.clear()
        live = self._live
        if self.sheet is None or live is None:
            return
        with self._live_layer:
            draw_live(self.sheet, live, App.get_running_app().palette)
