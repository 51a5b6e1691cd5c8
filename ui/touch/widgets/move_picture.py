"""The move as a small picture: the bed from above, the gantry askew on it, one arrow at the end that goes."""

from kivy.app import App
from kivy.graphics import Line
from kivy.properties import ObjectProperty

from core.said import said
from ui.touch.widgets.basics import Drawn
from ui.touch.widgets.gantry_drawing import Push, draw_bed, draw_push
from ui.touch.widgets.gantry_geometry import place_gantry
from ui.touch.widgets.lettering import write

# Of the 800 x 480 design.
_EDGE_PX = 30.0
_TYPE_PX = 16.0
_LINE_OF_TYPE_PX = 22.0
_GANTRY_PX = 12.0
_ARROW_PX, _SHAFT_PX, _HEAD_PX, _HALF_HEAD_PX = 46.0, 8.0, 22.0, 15.0
_FRONT_PX = 6.0


class MovePicture(Drawn):
    """`do` is a WhatToDo; where it moves nothing, nothing is drawn."""

    shows = ("do",)
    do = ObjectProperty(None, allownone=True)

    def _redraw(self, *_changed: object) -> None:
        self.canvas.clear()
        app, do = App.get_running_app(), self.do
        scale, palette = app.scale, app.palette
        if do is None or do.end is None or do.way is None or min(self.size) < 60 * scale:
            return
        edge, line = _EDGE_PX * scale, _LINE_OF_TYPE_PX * scale
        bed = (self.x + edge, self.y + line + 8 * scale, self.width - 2 * edge, self.height - line - 16 * scale)
        place = place_gantry(bed, end=do.end, way=do.way.side, left=1.0, inside=False, arrow_px=_ARROW_PX * scale)
        with self.canvas:
            draw_bed(bed, _FRONT_PX * scale, palette)
            write(said("you stand here"), self.x + self.width / 2, self.y + line / 2, _TYPE_PX * scale, centred=True)
            Line(points=(*place.still, *place.moving), width=_GANTRY_PX * scale / 2, cap="none")
            assert place.tip is not None
            push = Push(
                shaft=_SHAFT_PX * scale,
                head=_HEAD_PX * scale,
                half_head=_HALF_HEAD_PX * scale,
                clear=0.7 * _GANTRY_PX * scale,
            )
            draw_push(place.moving, place.tip, push, palette)
