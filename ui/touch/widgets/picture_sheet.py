"""A picture of strokes and labels, as the report and the SVG files draw it, fitted into a widget."""

from kivy.app import App
from kivy.graphics import Color, Line
from kivy.properties import ObjectProperty

from core.records import ShapePicture, StrokeStyle
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.lettering import write
from ui.touch.widgets.polygons import fill_polygon


class PictureSheet(Drawn):
    """Redrawn only when the picture, its place or the theme change; empty without a picture."""

    shows = ("picture",)
    picture = ObjectProperty(None, allownone=True)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        if self.picture is not None and min(self.size) >= 60:
            with self.canvas:
                self._draw(self.picture)

    def _draw(self, picture: ShapePicture) -> None:
        app = App.get_running_app()
        (low_x, low_y), (high_x, high_y) = picture.low, picture.high
        px_per_mm = min(self.width / (high_x - low_x), self.height / (high_y - low_y))

        def on_screen(x_mm: float, y_mm: float) -> tuple[float, float]:
            return (
                self.center_x + (x_mm - (low_x + high_x) / 2) * px_per_mm,
                self.center_y + (y_mm - (low_y + high_y) / 2) * px_per_mm,
            )

        for stroke in picture.strokes:
            if stroke.style in (StrokeStyle.BAND, StrokeStyle.UNSURE):
                Color(*(app.palette.zone if stroke.style is StrokeStyle.BAND else (*app.palette.ink[:3], 0.28)))
                fill_polygon([on_screen(*point) for point in stroke.points[:-1]])
                continue
            true = stroke.style in (StrokeStyle.TRUE, StrokeStyle.FAILING)
            Color(
                *(
                    app.palette.failing
                    if stroke.style is StrokeStyle.FAILING
                    else app.palette.ink
                    if true
                    else app.palette.rule
                )
            )
            points = [part for point in stroke.points for part in on_screen(*point)]
            Line(points=points, width=(2.0 if true else 1.0) * app.scale)
        Color(*app.palette.ink)
        for label in picture.labels:
            x, y = on_screen(*label.point)
            write(label.text, x, y, 16.0 * app.scale, bold=label.strong, centred=True)
