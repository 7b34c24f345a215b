"""A file on disk as pieces of UTF-8 text: refuse what is no text log, find the encoding, keep to whole lines.

Everything that can be wrong with a file before its content is looked at ends here in one sentence.
"""

import codecs
import io
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pullproof.errors import CannotRead
from pullproof.reading.vocabulary import plain_text, vocabulary

__all__ = ["TextFile", "check_file", "open_text"]

PIECE = 8 << 20
"""Bytes that are parsed at a time. Larger pieces are hardly faster and cost memory."""

LONGEST_LINE = 32 << 20
HEAD = 256 << 10

_SIGNATURES = {
    b"PK\x03\x04": ("a zip archive or a spreadsheet workbook", "Unpack it, or export the log as delimited text (CSV)."),
    b"PK\x05\x06": ("an empty zip archive", "Export the log as delimited text (CSV)."),
    b"\x1f\x8b": ("a gzip archive", "Unpack it first."),
    b"BZh": ("a bzip2 archive", "Unpack it first."),
    b"7z\xbc\xaf": ("a 7z archive", "Unpack it first."),
    b"\xfd7zXZ": ("an xz archive", "Unpack it first."),
    b"(\xb5/\xfd": ("a zstd archive", "Unpack it first."),
    b"Rar!": ("a rar archive", "Unpack it first."),
    b"\xd0\xcf\x11\xe0": ("a spreadsheet workbook", "Export the log as delimited text (CSV)."),
    b"%PDF": ("a PDF document", "Export the log as delimited text (CSV)."),
    b"\x89PNG": ("a picture", "Give the log itself."),
    b"\xff\xd8\xff": ("a picture", "Give the log itself."),
    b"SQLite format 3": ("a database", "Export the log as delimited text (CSV)."),
    b"PAR1": ("a Parquet file", "Export the log as delimited text (CSV)."),
}

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def check_file(path: Path) -> bytes:
    """The first bytes of a regular, readable, non-empty file.

    Raises
    ------
    CannotRead
        It is missing, a directory, a device, not permitted, empty, or of a kind that its first bytes give away.
    """
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise CannotRead("this is a directory, not a log", where=str(path), advice="Name the log files in it.")
        if not stat.S_ISREG(mode):
            raise CannotRead("this is no regular file", where=str(path), advice="Copy the log to a file first.")
        with path.open("rb") as file:
            head = file.read(HEAD)
    except OSError as error:
        raise CannotRead(
            f"the log cannot be opened ({error.strerror or error})",
            where=str(path),
            advice="Check path and permissions.",
        ) from error
    except ValueError as error:
        raise CannotRead("this is no file name", where=repr(str(path)), advice="Check the path.") from error
    if not head.strip(b"\0 \t\r\n\f\v\xef\xbb\xbf"):
        raise CannotRead("the file is empty", where=str(path), advice="Check that the logger closed the recording.")
    for signature, (kind, advice) in _SIGNATURES.items():
        if head.startswith(signature):
            raise CannotRead(f"this is {kind}, not a text log", where=str(path), advice=advice)
    return head


@dataclass(frozen=True, slots=True)
class TextFile:
    """A text file whose encoding is known.

    `encoding` is Python's name of it. `mark` bytes at the start are the byte order mark. `line_end` is what ends a
    line in the file: a line feed (with or without a carriage return before it) or a lone carriage return.
    """

    path: Path
    size: int
    encoding: str
    mark: int
    line_end: bytes

    @property
    def _wide(self) -> bool:
        return self.encoding.startswith(("utf-16", "utf-32"))

    def pieces(self, size: int = PIECE) -> Iterator[bytes]:
        """The text from its beginning as UTF-8, in pieces that end where a line ends; a line feed ends a line.

        Raises
        ------
        CannotRead
            The disk fails, or a line is longer than any logger writes.
        """
        try:
            with self.path.open("rb", buffering=0) as file:
                yield from self._decoded(file, size) if self._wide else self._whole_lines(file, size)
        except OSError as error:
            raise CannotRead(
                f"reading stopped ({error.strerror})", where=str(self.path), advice="Copy it anew."
            ) from error

    def _whole_lines(self, file: io.FileIO, size: int) -> Iterator[bytes]:
        """Pieces that are read to just behind a line end, which is looked for first: so nothing is copied."""
        start = self.mark
        while start < self.size:
            end, room = self.size, size
            while start + room < self.size:
                file.seek(start + max(0, room - HEAD))
                before = file.read(min(room, HEAD))
                cut = before.rfind(self.line_end) + 1
                if cut:
                    end = start + room - len(before) + cut
                    break
                room = self._more_room(room)
            file.seek(start)
            raw = file.read(end - start)
            if not raw:
                return
            start += len(raw)
            yield self._marked(raw)

    def _decoded(self, file: io.FileIO, size: int) -> Iterator[bytes]:
        decoder = codecs.getincrementaldecoder(self.encoding)("replace")
        file.seek(self.mark)
        rest = ""
        while raw := file.read(size):
            text = rest + decoder.decode(raw)
            cut = text.rfind(self.line_end.decode()) + 1
            rest = text[cut:]
            self._more_room(len(rest))
            if cut:
                yield self._marked(text[:cut].encode())
        if rest:
            yield self._marked(rest.encode())

    def _more_room(self, room: int) -> int:
        if room > LONGEST_LINE:
            raise CannotRead(
                f"a line is longer than {LONGEST_LINE >> 20} MB",
                where=str(self.path),
                advice="This is no delimited text log: check the file.",
            )
        return 2 * room

    def _marked(self, piece: bytes) -> bytes:
        """Equal line ends, and UTF-8 where the encoding is another one. Whether UTF-8 is valid is left open."""
        if self.line_end == b"\r":
            piece = piece.replace(b"\r", b"\n")
        if self.encoding in _CODECS and not piece.isascii():
            return piece.decode(_CODECS[self.encoding], "replace").encode()
        return piece

    def sound(self, piece: bytes) -> bytes:
        """A piece that is valid UTF-8 for certain, without the zero bytes that a power cut leaves.

        Text that was valid at the beginning and is not here comes from a sensor gone wild, or from another logger.
        """
        piece = piece.replace(b"\0", b"")
        try:
            piece.decode("utf-8")
        except UnicodeDecodeError:
            return piece.decode("cp1252", "replace").encode()
        return piece

    def sample(self, share: float, size: int = HEAD) -> list[str]:
        """Whole lines from around `share` (0 to 1) of the way through the file; at 0 from its very beginning.

        At 0 the sample grows until it holds some lines, however long they are.
        """
        start = self.mark + int(share * max(0, self.size - self.mark - size)) // 4 * 4
        with self.path.open("rb") as file:
            file.seek(start)
            raw = file.read(size)
            while start == self.mark and raw.count(self.line_end) < 5 and len(raw) < LONGEST_LINE:
                more = file.read(len(raw))
                if not more:
                    break
                raw += more
            ended = not file.read(1)
        text = raw.decode(_CODECS.get(self.encoding, self.encoding), "replace").replace("\0", "")
        lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        if start != self.mark:
            lines = lines[1:]
        return lines if ended and lines[-1:] != [""] else lines[:-1]


def open_text(path: Path) -> TextFile:
    """Find out how a text file is encoded.

    Raises
    ------
    CannotRead
        See `check_file`; also where the bytes are no text.
    """
    head = check_file(path)
    mark, encoding = next(((len(bom), name) for bom, name in _MARKS if head.startswith(bom)), (0, ""))
    if not encoding:
        encoding = _guess(head, path)
    if encoding.startswith(("utf-16", "utf-32")):
        text = head[mark : len(head) // 4 * 4].decode(encoding, "ignore")
        _refuse_binary(text.encode()[:HEAD], path)
        line_end = b"\n" if "\n" in text else b"\r"
    else:
        line_end = b"\r" if b"\r" in head and b"\n" not in head else b"\n"
    return TextFile(path, path.stat().st_size, encoding, mark, line_end)


def _guess(head: bytes, path: Path) -> str:
    """Encoding of a text without byte order mark."""
    body = head.rstrip(b"\0")
    if body.count(0) > len(body) // 8:
        odd, even = body[1::2].count(0), body[0::2].count(0)
        if max(odd, even) > 0.8 * len(body) / 2 and min(odd, even) < 0.05 * len(body) / 2:
            return "utf-16-le" if odd > even else "utf-16-be"
    _refuse_binary(body, path)
    try:
        codecs.getincrementaldecoder("utf-8")("strict").decode(body)
    except UnicodeDecodeError:
        return _single_byte(body)
    return "utf-8"


_CODECS = {"latin-1": "cp1252", "cp1250": "cp1250", "iso-8859-2": "iso-8859-2"}
"""Encodings of one byte a sign, and the codec that reads them; Windows' variant of Latin-1 holds all of it."""


def _single_byte(body: bytes) -> str:
    """The encoding in which the first lines hold most words that are known: western, else central European."""
    known = vocabulary().ideas

    def words(codec: str) -> int:
        text = plain_text(body[:8192].decode(codec, "replace"))
        return len({word for word in re.findall(r"[a-z]{3,}", text) if word in known})

    return max(_CODECS, key=lambda name: words(_CODECS[name]))


def _without_gaps(body: bytes) -> bytes:
    """A text less the zero bytes of a few gaps, as a power cut leaves them; strewn all over they are no gaps."""
    runs = len(re.findall(rb"\0+", body))
    return body.replace(b"\0", b"") if runs <= 3 + len(body) // 2000 else body


_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\v\f\r\x1a\x1b")


def _refuse_binary(body: bytes, path: Path) -> None:
    body = _without_gaps(body)
    controls = len(body) - len(body.translate(None, _CONTROLS))
    letters = len(body) - len(body.translate(None, bytes(range(128, 256))))
    if controls > len(body) // 200 or letters > len(body) // 3:
        raise CannotRead(
            "this is a binary file, not a text log",
            where=str(path),
            advice="Export the log as delimited text (CSV) or as MDF 4.",
        )
