"""The report as plain data: worded, formatted, and the same for every way of showing it.

A report is a title, a verdict and sections; a section is a heading, a note on how to read it, and blocks. A
renderer lays these out and adds no word and no number of its own. What carries `picture=False` is left out of the
picture for a chat, which has room for the main things only.
"""

from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias

from pullproof.report.drawables import CurveDrawing, IntervalDrawing
from pullproof.report.history_drawables import EffectsDrawing, SeasonDrawing
from pullproof.report.map_drawable import MapDrawing
from pullproof.report.path_drawables import AgreementDrawing, StackDrawing
from pullproof.report.plan_drawable import ChanceDrawing
from pullproof.report.watch_drawable import EventDrawing

__all__ = [
    "Block",
    "Cell",
    "Column",
    "Fact",
    "Facts",
    "Headline",
    "Paragraph",
    "Plate",
    "Points",
    "Report",
    "Row",
    "Section",
    "Table",
]


@dataclass(frozen=True, slots=True)
class Fact:
    """A term and what is to be said of it."""

    term: str
    text: str


@dataclass(frozen=True, slots=True)
class Facts:
    """A short list of terms, each with what is to be said of it."""

    kind: ClassVar[str] = "facts"
    items: tuple[Fact, ...]
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of text."""

    kind: ClassVar[str] = "paragraph"
    text: str
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Points:
    """A list of statements, each for itself."""

    kind: ClassVar[str] = "points"
    items: tuple[str, ...]
    ordered: bool = False
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Plate:
    """A figure with what it shows in words."""

    kind: ClassVar[str] = "plate"
    heading: str
    drawing: CurveDrawing | StackDrawing | MapDrawing | SeasonDrawing | EffectsDrawing | ChanceDrawing | EventDrawing
    notes: tuple[str, ...]
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table: a text, an interval drawn below it, and a smaller remark.

    `tone` is for the eye only; the words say the same.
    """

    text: str
    note: str = ""
    drawing: IntervalDrawing | AgreementDrawing | None = None
    tone: Literal["plain", "warn", "fail"] = "plain"


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    `weight` is its share of the width. `picture` says where a value stands in the picture for a chat, which has no
    room for columns: beside the row's heading, below it, or nowhere.
    """

    heading: str
    weight: float
    picture: Literal["beside", "below", "nowhere"] = "nowhere"


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; its first cell is the row's heading. `main` marks the row that the verdict speaks of."""

    cells: tuple[Cell, ...]
    main: bool = False
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a heading for every column and row."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    picture: bool = True


Block: TypeAlias = Facts | Paragraph | Points | Plate | Table


@dataclass(frozen=True, slots=True)
class Section:
    """A numbered entry of the record."""

    heading: str
    note: str
    blocks: tuple[Block, ...]
    picture: bool = True


@dataclass(frozen=True, slots=True)
class Headline:
    """The answer first. `measure`, `number`, `unit` and `interval` are empty where there is no number to give."""

    sentence: str
    sign: str
    word: str
    measure: str
    number: str
    unit: str
    interval: str
    meaning: tuple[str, ...]
    drawing: IntervalDrawing | None
    heading: str = "Verdict"


@dataclass(frozen=True, slots=True)
class Report:
    """Everything that a report says. `subject` stands above the title and says what kind of report it is."""

    title: str
    headline: Headline
    sections: tuple[Section, ...]
    footer: tuple[str, ...]
    picture_footer: tuple[str, ...]
    subject: str = "Before and after"
