"""From a KMZ file to the KML in it, as an element tree; bounded, and without anything that XML can expand."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from typing import NoReturn
from xml.etree import ElementTree as ET

from alertd.core import SourceMalformed

#: [bytes] Largest KML that is read. Assumed: one station has about 0.5 MB (120 elements, 247 hours).
LARGEST_KML = 8 * 1024 * 1024

#: [bytes] Largest KMZ that is read. Assumed: one station has about 0.1 MB.
LARGEST_KMZ = 2 * 1024 * 1024

#: Deepest nesting of elements. Assumed: the format needs seven levels.
DEEPEST_NESTING = 32

#: Most elements that are read. Assumed: one station has about 600.
MOST_ELEMENTS = 20_000

#: Most members that are looked at. Assumed: the format has one.
_MOST_MEMBERS = 16

_SINGLE_STATIONS = "check base_url: it must lead to files of single stations"
_COMPRESSIONS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1

#: What :mod:`zipfile` raises on files that are not what they say.
_BROKEN_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    OSError,
    ValueError,
    OverflowError,
    IndexError,
)

_DECLARED_ENCODING = re.compile(rb"""\A\s*<\?xml[^>]{0,200}?\bencoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["']""")
_DECLARATION = re.compile(r"\A\s*<\?xml[^>]{0,400}\?>")
_ENCODINGS = {"utf-8": "utf-8-sig", "iso-8859-1": "iso-8859-1", "us-ascii": "ascii"}
_UTF_8 = "utf-8"


def refuse(what: str, mend: str = "it is asked again later") -> NoReturn:
    """Raise that a file cannot be trusted.

    Parameters
    ----------
    what, mend : str
        What is wrong, and what a person can do about it.

    Raises
    ------
    SourceMalformed
        Always.
    """
    message = f"{what}; {mend}"
    raise SourceMalformed(message)


def read_kml(body: bytes) -> ET.Element:
    """Return the root element of the one KML file in a KMZ file.

    Parameters
    ----------
    body : bytes
        A zip file.

    Returns
    -------
    xml.etree.ElementTree.Element
        Of a document in UTF-8, ISO-8859-1 or ASCII.

    Raises
    ------
    SourceMalformed
        If it is no zip file with exactly one KML file, if that is damaged, encrypted, longer than 8 MiB or nested too
        deeply, in another encoding, declares a document type or entities, or is no XML.
    """
    return _parsed(_decoded(_only_member(body)))


def _only_member(body: bytes) -> bytes:
    """Return the only KML file of a zip file; no more of it is unpacked than may be."""
    if len(body) > LARGEST_KMZ:
        refuse(f"the KMZ file is longer than {LARGEST_KMZ // 1024**2} MiB", _SINGLE_STATIONS)
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as archive:
            members = archive.infolist()
            chosen = [member for member in members if member.filename.lower().endswith(".kml")]
            is_fit = len(members) <= _MOST_MEMBERS and len(chosen) == 1
            if not is_fit or chosen[0].flag_bits & _ENCRYPTED or chosen[0].compress_type not in _COMPRESSIONS:
                refuse("the zip file does not hold one plain KML file", "check base_url: it must lead to KMZ files")
            with archive.open(chosen[0]) as member:
                content = member.read(LARGEST_KML + 1)
    except _BROKEN_ZIP as error:
        is_page = body[:200].lstrip().lower().startswith((b"<!doctype html", b"<html"))
        what = "is a web page instead of a KMZ file" if is_page else "is no whole KMZ file"
        message = f"the answer {what}; check base_url and any proxy in between, else it is asked again later"
        raise SourceMalformed(message) from error
    if len(content) > LARGEST_KML:
        refuse(f"the KML file is longer than {LARGEST_KML // 1024**2} MiB", _SINGLE_STATIONS)
    return content


def _decoded(content: bytes) -> str:
    """Return the text of a KML file, without its XML declaration."""
    match = _DECLARED_ENCODING.match(content.removeprefix(b"\xef\xbb\xbf"))
    name = match.group(1).decode("ascii").lower() if match else _UTF_8
    if name not in _ENCODINGS:
        refuse(f"the KML file is in {name}, not in UTF-8 or ISO-8859-1", "look for a newer version of alertd")
    try:
        text = content.decode(_ENCODINGS[name])
    except UnicodeDecodeError as error:
        message = f"the KML file is not in {name} as it says; it is asked again later"
        raise SourceMalformed(message) from error
    return _DECLARATION.sub("", text, count=1)


def _parsed(text: str) -> ET.Element:
    """Return the root element of a document that declares nothing."""
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        refuse("the KML file declares a document type or entities", "check base_url and any proxy in between")
    parser = ET.XMLParser(target=_BoundedBuilder())  # noqa: S314 - nothing is declared, so nothing expands
    try:
        parser.feed(text)
        root: ET.Element = parser.close()
    except (ET.ParseError, ValueError) as error:
        message = f"the KML file is no whole XML ({error}); it is asked again later"
        raise SourceMalformed(message) from error
    return root


class _BoundedBuilder(ET.TreeBuilder):
    """Builds the tree of a document, and refuses more elements than a forecast can have."""

    def __init__(self) -> None:
        super().__init__()
        self._depth = self._elements = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> ET.Element:
        self._depth += 1
        self._elements += 1
        if self._depth > DEEPEST_NESTING or self._elements > MOST_ELEMENTS:
            refuse("the KML file has too many elements", _SINGLE_STATIONS)
        return super().start(tag, attrs)

    def end(self, tag: str, /) -> ET.Element:
        self._depth -= 1
        return super().end(tag)
