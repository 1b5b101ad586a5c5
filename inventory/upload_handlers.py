"""How much a request may carry. Django itself sets no limit on files."""

from typing import Any, NoReturn

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopFutureHandlers

#: The largest file that any form takes, and room for the fields around it.
MOST_BYTES = 20_000_000


class TooLarge(UploadedFile):
    """Stands for a file that was let pass by unread: it has a name and a size, so that the form can
    say at the field what is wrong. Reading it answers 400: no form may take it for an empty file."""

    def read(self, *args: Any) -> NoReturn:
        raise RequestDataTooBig("The request is larger than any form takes.")

    chunks = __iter__ = read

    def close(self) -> None:
        """There is nothing to close."""


class WholeRequestLimit(FileUploadHandler):
    """First of FILE_UPLOAD_HANDLERS: of a request that is too large it keeps the fields and no file.

    What comes is still read to its end, a chunk at a time, and dropped: a browser whose request is
    cut off shows “connection reset” instead of the answer (RFC 9110, 15.5.14, lets a server close)."""

    def handle_raw_input(
        self, input_data, META, content_length: int, boundary, encoding=None
    ) -> None:
        self.refused = content_length > MOST_BYTES

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        if self.refused:
            raise StopFutureHandlers

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        return None if self.refused else raw_data

    def file_complete(self, file_size: int) -> UploadedFile | None:
        if not self.refused:
            return None
        return TooLarge(None, self.file_name, self.content_type, file_size)
