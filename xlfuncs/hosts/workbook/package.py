"""The zip package of a workbook: checked before it is read, copied byte for byte when written."""

from __future__ import annotations

import contextlib
import io
import os
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from xml.parsers import expat

from isal import isal_zlib

from .refusal import Refusal

MEBIBYTE = 1 << 20
# zip64 records, which no spreadsheet program writes for a workbook, begin above these two.
INPUT_LIMIT = 2048 * MEBIBYTE - 1
MEMBER_LIMIT = 20_000
EXPANDED_LIMIT = 2048 * MEBIBYTE
# Sheet XML seldom shrinks more than 60 times; what deflate can do at most is about 1000 times.
RATIO_LIMIT = 300
RATIO_FREE = 16 * MEBIBYTE

OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
LOCAL_HEADER = struct.Struct("<4s5H3L2H")
CENTRAL_HEADER = struct.Struct("<4s4B4H3L5H2L")
END_RECORD = struct.Struct("<4s4H2LH")
ENCRYPTED, DATA_DESCRIPTOR, UTF8_NAME = 0x1, 0x8, 0x800


@dataclass(frozen=True)
class Package:
    """A workbook file held in memory."""

    data: bytes
    archive: zipfile.ZipFile
    members: Mapping[str, zipfile.ZipInfo]

    def read(self, name: str) -> bytes:
        """Contents of one member; zipfile gives no more than the declared size."""
        if name not in self.members:
            raise Refusal(f"Not a workbook: {name} is missing from the file.")
        try:
            return self.archive.read(self.members[name])
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError) as error:
            raise Refusal(f"The file is damaged: {name} can't be read ({error}).") from None
        except (RuntimeError, NotImplementedError) as error:
            raise Refusal(f"{name} can't be read: {error}.") from None

    def read_xml(self, name: str) -> bytes:
        """Contents of an XML member: well formed, UTF-8, without a document type."""
        content = self.read(name)
        check_xml(content, name)
        return content

    def with_members(self, changed: Mapping[str, bytes]) -> bytes:
        """Bytes of the package with the contents of some members replaced.

        Every other member keeps the very bytes it had: local header, compressed data and data
        descriptor are copied as they stand.
        """
        infos = sorted(self.members.values(), key=lambda info: info.header_offset)
        ends = [info.header_offset for info in infos[1:]] + [self.archive.start_dir]
        view = memoryview(self.data)
        pieces: list[bytes | memoryview] = []
        directory: list[bytes] = []
        position = 0
        for info, end in zip(infos, ends, strict=True):
            if info.filename in changed:
                piece, entry = _new_member(info, changed[info.filename], position)
                pieces.append(piece)
                position += len(piece)
            else:
                pieces.append(view[info.header_offset : end])
                entry = _central_header(info, info, info.extra, position)
                position += end - info.header_offset
            directory.append(entry)
        size = sum(map(len, directory))
        comment = self.archive.comment
        end_record = END_RECORD.pack(
            b"PK\x05\x06", 0, 0, len(infos), len(infos), size, position, len(comment)
        )
        return b"".join([*pieces, *directory, end_record, comment])


def open_package(path: Path) -> Package:
    """Read a workbook file, or refuse it with one line that says why."""
    try:
        if path.stat().st_size > INPUT_LIMIT:
            raise Refusal(f"{path.name} is larger than 2 GiB.")
        data = path.read_bytes()
    except FileNotFoundError:
        raise Refusal(f"There is no file {path}.") from None
    except IsADirectoryError:
        raise Refusal(f"{path} is a folder, not a workbook.") from None
    except PermissionError:
        raise Refusal(
            f"{path.name} can't be read: it is open elsewhere, or you may not read it."
        ) from None
    return package_from_bytes(data, path.name)


def package_from_bytes(data: bytes, name: str) -> Package:
    """Check the zip structure and its declared sizes; nothing is expanded yet."""
    _refuse_other_formats(data, name)
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, struct.error, ValueError, EOFError, NotImplementedError) as error:
        raise Refusal(f"{name} is a damaged or incomplete file ({error}).") from None
    infos = archive.infolist()
    if len(infos) > MEMBER_LIMIT:
        raise Refusal(f"{name} holds more than {MEMBER_LIMIT} parts.")
    if sum(info.file_size for info in infos) > EXPANDED_LIMIT:
        raise Refusal(f"{name} would expand to more than {EXPANDED_LIMIT >> 20} MiB.")
    seen: set[str] = set()
    end = 0
    for info in sorted(infos, key=lambda info: info.header_offset):
        _check_member(info, name)
        # Excel finds parts without regard to case.
        if info.filename.lower() in seen:
            raise Refusal(f"{name} holds the part {info.filename} twice.")
        seen.add(info.filename.lower())
        if info.header_offset < end or data[info.header_offset :][:4] != b"PK\x03\x04":
            raise Refusal(f"{name} is damaged: its parts overlap.")
        end = info.header_offset + LOCAL_HEADER.size + info.compress_size
    if end > archive.start_dir:
        raise Refusal(f"{name} is damaged: its parts overlap.")
    members = {info.filename: info for info in infos}
    if "mimetype" in members and "[Content_Types].xml" not in members:
        raise Refusal(f"{name} is an OpenDocument file; save it as .xlsx first.")
    if "[Content_Types].xml" not in members:
        raise Refusal(f"{name} is a zip file, but not a workbook.")
    return Package(data, archive, members)


def _check_member(info: zipfile.ZipInfo, name: str) -> None:
    part = info.filename
    if info.flag_bits & ENCRYPTED:
        raise Refusal(f"{name} is password-protected; save it without a password first.")
    if (
        part != info.orig_filename
        or part.startswith("/")
        or "\\" in part
        or ":" in part
        or ".." in part.split("/")
    ):
        raise Refusal(f"{name} holds a part with an unsafe name: {part!r}.")
    if info.file_size > max(RATIO_FREE, RATIO_LIMIT * info.compress_size):
        raise Refusal(f"{name} is not opened: {part} expands more than {RATIO_LIMIT} times.")


def _refuse_other_formats(data: bytes, name: str) -> None:
    suffix = Path(name).suffix.lower()
    if data.startswith(OLE_MAGIC):
        # The names in an OLE directory are UTF-16.
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise Refusal(f"{name} is password-protected; save it without a password first.")
        raise Refusal(f"{name} is an old .xls workbook; save it as .xlsx or .xlsm first.")
    if suffix == ".csv":
        raise Refusal(f"{name} is a .csv text file; save it as .xlsx first.")
    if not data:
        raise Refusal(f"{name} is empty.")
    if not data.startswith(b"PK\x03\x04"):
        raise Refusal(f"{name} is not an .xlsx or .xlsm workbook.")


def check_xml(content: bytes, name: str) -> None:
    """Refuse XML that is broken, declares a document type, or is not UTF-8."""

    def refuse_document_type(*_: object) -> None:
        raise Refusal(f"{name} declares a document type, which no workbook needs; not opened.")

    def check_encoding(_version: str, encoding: str | None, _standalone: int) -> None:
        if encoding and encoding.lower() not in ("utf-8", "us-ascii", "ascii"):
            raise Refusal(f"{name} is encoded as {encoding}; only UTF-8 is read.")

    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refusal(f"{name} is encoded as UTF-16; only UTF-8 is read.")
    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = refuse_document_type
    parser.XmlDeclHandler = check_encoding
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise Refusal(f"The file is damaged: {name} is not well-formed XML ({error}).") from None


def _new_member(info: zipfile.ZipInfo, content: bytes, position: int) -> tuple[bytes, bytes]:
    new = zipfile.ZipInfo(info.orig_filename, info.date_time)
    new.flag_bits = info.flag_bits & ~DATA_DESCRIPTOR
    new.compress_type = zipfile.ZIP_DEFLATED
    new.CRC = zlib.crc32(content)
    # Seven times as fast as zlib for a file that is a tenth larger.
    deflate = isal_zlib.compressobj(level=2, wbits=-zlib.MAX_WBITS)
    packed = deflate.compress(content) + deflate.flush()
    new.compress_size, new.file_size = len(packed), len(content)
    filename = _encoded_name(info)
    local = LOCAL_HEADER.pack(
        b"PK\x03\x04",
        20,
        new.flag_bits,
        new.compress_type,
        *_dos_time(info),
        new.CRC,
        new.compress_size,
        new.file_size,
        len(filename),
        0,
    )
    return local + filename + packed, _central_header(info, new, b"", position)


def _central_header(
    info: zipfile.ZipInfo, sizes: zipfile.ZipInfo, extra: bytes, position: int
) -> bytes:
    filename = _encoded_name(info)
    return (
        CENTRAL_HEADER.pack(
            b"PK\x01\x02",
            info.create_version,
            info.create_system,
            info.extract_version,
            info.reserved,
            sizes.flag_bits,
            sizes.compress_type,
            *_dos_time(info),
            sizes.CRC,
            sizes.compress_size,
            sizes.file_size,
            len(filename),
            len(extra),
            len(info.comment),
            0,
            info.internal_attr,
            info.external_attr,
            position,
        )
        + filename
        + extra
        + info.comment
    )


def _encoded_name(info: zipfile.ZipInfo) -> bytes:
    return info.orig_filename.encode("utf-8" if info.flag_bits & UTF8_NAME else "cp437")


def _dos_time(info: zipfile.ZipInfo) -> tuple[int, int]:
    year, month, day, hour, minute, second = info.date_time
    return hour << 11 | minute << 5 | second // 2, (year - 1980) << 9 | month << 5 | day


def write_atomically(content: bytes, output: Path, mode_of: Path) -> None:
    """Write beside `output`, then put it in its place in one step; on failure nothing changes."""
    # A link stays one; the file behind it is replaced.
    output = output.resolve()
    folder = output.parent
    try:
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=f".{output.stem}-", suffix=".tmp")
    except OSError as error:
        raise Refusal(f"Nothing can be written in {folder}: {error.strerror}.") from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        kept = output if output.exists() else mode_of
        Path(temporary).chmod(stat.S_IMODE(kept.stat().st_mode))
        os.replace(temporary, output)  # noqa: PTH105 - the name says what it does on Windows
    except PermissionError:
        raise Refusal(f"{output.name} can't be replaced: it is open elsewhere.") from None
    except OSError as error:
        raise Refusal(f"{output.name} can't be written: {error.strerror}.") from None
    finally:
        with contextlib.suppress(OSError):
            Path(temporary).unlink()
    _sync_folder(folder)


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
