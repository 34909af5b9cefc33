"""The last good answers of weather services, one for each request."""

from __future__ import annotations

from alertd.core import Answer, StoreError, parse_instant

from .codec import exact_text
from .database import Database
from .trouble import explained

_SELECT = """
    SELECT url, status, body, retrieved, expires, etag, last_modified, content_type FROM answers WHERE key = ?
"""

_UPSERT = """
    INSERT INTO answers (key, url, status, body, retrieved, expires, etag, last_modified, content_type)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (key) DO UPDATE SET url = excluded.url, status = excluded.status, body = excluded.body,
        retrieved = excluded.retrieved, expires = excluded.expires, etag = excluded.etag,
        last_modified = excluded.last_modified, content_type = excluded.content_type
"""


class Answers(Database):
    """The part of a store that holds answers of services; losing them is harmless, so the audit log has none."""

    def answer(self, key: str) -> Answer | None:
        """Return the answer kept under a key.

        Parameters
        ----------
        key : str
            Any.

        Returns
        -------
        Answer or None
            ``None`` if there is none.

        Raises
        ------
        StoreError
            If the database cannot be read, or somebody spoilt the answer.
        """
        with self._lock, explained(self.name):
            row = self._connection.execute(_SELECT, (key,)).fetchone()
        if row is None:
            return None
        url, status, body, retrieved, expires, etag, last_modified, content_type = row
        try:
            return Answer(
                url,
                int(status),
                bytes(body),
                parse_instant(retrieved),
                None if expires is None else parse_instant(expires),
                etag,
                last_modified,
                content_type,
            )
        except (ValueError, TypeError, AttributeError) as error:
            message = f"database {self.name}: the answer kept for {key} is spoilt; it is replaced by the next one"
            raise StoreError(message) from error

    def keep_answer(self, key: str, answer: Answer) -> None:
        """Keep an answer in place of the one under the same key.

        Parameters
        ----------
        key : str
            Any.
        answer : Answer
            Its ``problem`` is not kept.

        Raises
        ------
        ValueError
            If one of its times is naive.
        StoreError
            If the database cannot be written.
        """
        row = (
            key,
            answer.url,
            answer.status,
            answer.body,
            exact_text(answer.retrieved),
            None if answer.expires is None else exact_text(answer.expires),
            answer.etag,
            answer.last_modified,
            answer.content_type,
        )
        with self._writing() as connection:
            connection.execute(_UPSERT, row)

    def forget_answer(self, key: str) -> None:
        """Drop the answer under a key, if there is one.

        Parameters
        ----------
        key : str
            Any.

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        with self._writing() as connection:
            connection.execute("DELETE FROM answers WHERE key = ?", (key,))
