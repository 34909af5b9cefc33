"""Messages about the program itself, in plain words: to every reader, with the record, in one transaction."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from alertd.messages import Letter, clock_text, day_text, letter_reference
from alertd.store import Addressed, Commit
from alertd.watch import letter_event

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from alertd.audit import AuditEvent
    from alertd.site import Site
    from alertd.store import Store
    from alertd.watch import Readership


@dataclass(frozen=True, slots=True)
class Notice:
    """One message about the program.

    Parameters
    ----------
    subject : str
        Of what it is about and how that stands; also the short form.
    lines : tuple of str
        Sentences for people.
    topic : str
        One word that ends the reference, like ``watch``.
    thread : str
        What all messages about one matter share.
    response_type : str
        As CAP 1.2 has it.
    """

    subject: str
    lines: tuple[str, ...]
    topic: str
    thread: str
    response_type: str


class Notices:
    """Tells every reader about the program itself.

    Parameters
    ----------
    store : Store
        Takes letters and record.
    readership : Readership
        Who is told.
    site : Site
        Whose.
    """

    def __init__(self, store: Store, readership: Readership, site: Site) -> None:
        self._store = store
        self._readership = readership
        self._site = site

    def use(self, readership: Readership, site: Site) -> None:
        """Tell others from now on.

        Parameters
        ----------
        readership : Readership
            Who is told.
        site : Site
            Whose.
        """
        self._readership = readership
        self._site = site

    def tell(
        self, notice: Notice, now: datetime, notes: Mapping[str, str], *, before: tuple[AuditEvent, ...] = ()
    ) -> None:
        """Put a notice into the outbox: letters, record and notes together, or nothing.

        Parameters
        ----------
        notice : Notice
            What is told.
        now : datetime
            Aware UTC.
        notes : mapping of str to str
            What the store shall remember of it.
        before : tuple of AuditEvent
            Recorded before the letters.

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        record = str(self._store.head())
        letters = tuple(
            Addressed(self._letter(notice, reader.name, now, record), self._readership.channels[reader.name], record)
            for reader in self._readership.readers
        )
        told = tuple(letter_event(each.letter, each.channels) for each in letters)
        self._store.commit(Commit(now, letters=letters, events=(*before, *told), notes=notes))

    def when(self, instant: datetime) -> str:
        """Return an instant in local words.

        Parameters
        ----------
        instant : datetime
            Aware.

        Returns
        -------
        str
            Like ``10:01 on Thu 22 Jan``.
        """
        return f"{clock_text(instant, self._site)} on {day_text(instant, self._site)}"

    def _letter(self, notice: Notice, reader: str, now: datetime, record: str) -> Letter:
        reference = f"{letter_reference(now, record, reader)}-{notice.topic}"
        name = self._site.name
        paragraphs = (f"{name}, {self.when(now)}", *notice.lines, f"Record {record}", f"Reference {reference}")
        body = "".join(f"<p>{escape(line)}</p>" for line in paragraphs)
        head = f"<head><title>{escape(notice.subject)}</title></head>"
        return Letter(
            reference=reference,
            recipient=reader,
            composed=now,
            subject=f"{notice.subject} ({name})",
            text="\n\n".join(paragraphs) + "\n",
            html=f"<!DOCTYPE html><html>{head}<body>{body}</body></html>",
            short=notice.subject,
            threads=(notice.thread,),
            response_type=notice.response_type,
        )
