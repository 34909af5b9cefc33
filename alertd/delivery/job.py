"""What the sending process is told and what it answers, as JSON over pipes.

A job holds the channel's URL, so it goes through standard input only: command lines and environments can be read
by others.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from .verdict import Outcome, Phrase, Verdict

#: Time that is left for starting the process and telling the verdict [s], assumed; both take 0.4 s when measured.
_LAST_WORDS = 2.0


@dataclass(frozen=True, slots=True)
class Job:
    """One letter for one service.

    Parameters
    ----------
    url : str
        Of the service; a secret.
    reference : str
        Names the letter.
    subject, short, text, html : str
        As in the letter.
    mail_headers : dict of str to str
        Header fields that a mail carries in addition.
    deadline : float
        After this the sending process is killed [s].
    """

    url: str
    reference: str
    subject: str
    short: str
    text: str
    html: str
    mail_headers: dict[str, str]
    deadline: float

    @property
    def patience(self) -> float:
        """How long one wait for the other side may take [s].

        A little less than the deadline, so that the process can still say what it was waiting for.
        """
        return max(self.deadline - _LAST_WORDS, self.deadline / 2)

    def __repr__(self) -> str:
        """Leave the secrets out."""
        return f"Job(reference={self.reference!r})"


def encode_job(job: Job) -> bytes:
    """Return a job as JSON.

    Parameters
    ----------
    job : Job
        What to send.

    Returns
    -------
    bytes
        ASCII.
    """
    return json.dumps(asdict(job)).encode("ascii")


def decode_job(data: bytes) -> Job:
    """Return the job that a JSON text holds.

    Parameters
    ----------
    data : bytes
        As :func:`encode_job` makes it.

    Returns
    -------
    Job
        The same job.
    """
    return Job(**json.loads(data))


def encode_verdict(verdict: Verdict) -> bytes:
    """Return a verdict as JSON.

    Parameters
    ----------
    verdict : Verdict
        What became of the try.

    Returns
    -------
    bytes
        ASCII.
    """
    return json.dumps(asdict(verdict)).encode("ascii")


def decode_verdict(data: bytes) -> Verdict:
    """Return the verdict that a JSON text holds.

    Parameters
    ----------
    data : bytes
        What the sending process wrote.

    Returns
    -------
    Verdict
        Unknown, without an answer, if the text is no verdict.
    """
    try:
        answer = json.loads(data)
        return Verdict(
            outcome=Outcome(answer["outcome"]),
            phrase=Phrase(answer["phrase"]),
            code=None if answer["code"] is None else int(answer["code"]),
            retry_after=None if answer["retry_after"] is None else float(answer["retry_after"]),
        )
    except (ValueError, TypeError, KeyError):
        return Verdict(Outcome.UNKNOWN, Phrase.NO_ANSWER)
