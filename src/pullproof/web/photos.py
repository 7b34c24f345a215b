"""Photos of changes: taken for what their bytes say they are, kept among the originals."""

from typing import Final

from starlette.datastructures import UploadFile

from pullproof.errors import WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.files import keep_bytes
from pullproof.library.schema import PhotoRow
from pullproof.web.imports import safe_name

__all__ = ["MEDIA_TYPES", "keep_photos"]

LARGEST: Final = 25_000_000
"""Bytes of one photo."""

_HEADS: Final = (
    (b"\xff\xd8\xff", 0, "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", 0, "image/png"),
    (b"WEBP", 8, "image/webp"),
)
MEDIA_TYPES: Final = frozenset(media for _, _, media in _HEADS)


def keep_photos(library: Library, change_id: int, files: list[UploadFile]) -> None:
    """Keep photos of a change.

    Raises
    ------
    WrongUse
        A file is no JPEG, PNG or WebP picture, whatever its name says, or it is too large.
    """
    contents = [(file, file.file.read(LARGEST + 1)) for file in files]
    for file, content in contents:
        if len(content) > LARGEST:
            raise WrongUse(
                f"the photo is larger than {LARGEST // 1_000_000} MB",
                where=safe_name(file.filename or ""),
                advice="Make it smaller first.",
            )
        _media_type(file, content)
    for file, content in contents:
        kept = keep_bytes(library.folder, content)
        row = PhotoRow(
            change_id=change_id,
            hash=kept.hash,
            size=kept.size,
            file=safe_name(file.filename or ""),
            media_type=_media_type(file, content),
        )
        with library.transaction() as session:
            catalogue.add(session, row)


def _media_type(file: UploadFile, content: bytes) -> str:
    for head, at, media in _HEADS:
        if content[at : at + len(head)] == head:
            return media
    raise WrongUse(
        "this is no photo", where=safe_name(file.filename or ""), advice="Choose pictures in JPEG, PNG or WebP."
    )
