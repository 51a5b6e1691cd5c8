"""The order of reading of a printed file as a tree: elements that hold what is on the page, some within groups.

Input: what begins, is put on a page and ends, as it is written. Output: the structure tree that the page's library
writes out; its own has one level only. A group lies on one page. Source: ISO 32000-1, 14.7.2 (hierarchy), 14.7.4
(parent tree), 14.8.4.3.4 (tables), 14.8.5.7 (the scope of a table's heads).
"""

from collections.abc import Iterator
from enum import StrEnum

from fpdf.structure_tree import StructElem, StructureTreeBuilder
from fpdf.syntax import PDFObject


class Element(StrEnum):
    """What a piece of the page is to whoever has it read aloud: a standard structure type, and for a table's heads
    whether they are those of columns or of rows."""

    HEADING = "H1"
    PARAGRAPH = "P"
    FIGURE = "Figure"
    TABLE = "Table"
    ROW = "TR"
    COLUMN_HEAD = "TH Column"
    ROW_HEAD = "TH Row"
    CELL = "TD"

    @property
    def tag(self) -> str:
        """The structure type as it is written."""
        return f"/{self.value.partition(' ')[0]}"

    @property
    def attributes(self) -> str | None:
        """The attribute dictionary of a head; None of all others."""
        scope = self.value.partition(" ")[2]
        return f"<</O /Table /Scope /{scope}>>" if scope else None


class _Outer(StructElem):
    """An element of the document itself; the library tells it its page."""

    a: str | None = None


class _Inner(_Outer):
    """An element within a group, on the group's page."""

    _group: StructElem

    @property  # type: ignore[override]
    def pg(self) -> object:
        """The page's object, which the library gives to outer elements only."""
        return self._group.pg

    @pg.setter
    def pg(self, page: object) -> None:
        """Leave it to the group."""


class TaggedTree(StructureTreeBuilder):
    """Grows as the page is written: what is marked goes into the innermost group that is open."""

    def __init__(self) -> None:
        super().__init__()
        self._open: list[StructElem] = []
        self._inner: list[StructElem] = []

    def begin(self, kind: Element, page: int) -> None:
        """Open a group."""
        self._open.append(self._added(kind, page, [], None))

    def end(self) -> None:
        """Close the innermost group."""
        self._open.pop()

    def mark(self, kind: Element, page: int, instead: str | None) -> tuple[int, int]:
        """Add an element that holds the next piece of the page; returns the piece's number on its page, and the page's
        in the parent tree. `instead` says in words what is no text."""
        parents = self.spid_per_page_number.setdefault(page, len(self.spid_per_page_number))
        pieces = self.struct_tree_root.parent_tree.nums[parents]
        number = len(pieces)
        pieces.append(self._added(kind, page, [number], instead))
        return number, parents

    def __iter__(self) -> Iterator[PDFObject]:
        """All that is written, the root first."""
        yield from super().__iter__()
        yield from self._inner

    def _added(self, kind: Element, page: int, kids: list[int], instead: str | None) -> StructElem:
        if not self._open:
            outer = _Outer(kind.tag, self.doc_struct_elem, kids, page_number=page, alt=instead)
            outer.a = kind.attributes
            self.doc_struct_elem.k.append(outer)
            return outer
        inner = _Inner(kind.tag, self._open[-1], kids, page_number=page, alt=instead)
        inner._group, inner.a = self._open[-1], kind.attributes
        self._open[-1].k.append(inner)
        self._inner.append(inner)
        return inner
