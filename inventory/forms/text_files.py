"""The text of an uploaded table, for forms that show it in a box where it can be mended."""

from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

BIGGEST_FILE_BYTES = 6 * 1024 * 1024


def text_of(file: "UploadedFile[Any]") -> str:
    """The text of an uploaded table, in whichever of the usual encodings it is.

    Raises:
        ValidationError: it is too big, or no text.
    """
    if (file.size or 0) > BIGGEST_FILE_BYTES:
        most = BIGGEST_FILE_BYTES // (1024 * 1024)
        raise ValidationError(f"That file is larger than {most} MB: send it in parts.")
    content = bytes(file.read())
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    if b"\0" in content[:4096] or content.startswith(b"PK"):
        raise ValidationError("That is not a text file: save it as CSV and choose that one.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
