"""The judging process: reads URLs, says what is wrong with each, and ends with its input.

It runs as ``python -m alertd.delivery.judge_child``. Each line of standard input is one URL as JSON, and each line of
standard output a list of one: what is wrong, or null. A URL is a secret, so it goes through pipes only.
"""

from __future__ import annotations

import json
import os
import resource
import sys

from alertd.delivery.channel import Channel
from alertd.delivery.check import check_channel


def main() -> None:
    """Answer until the input ends; leave no memory image behind."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    answers = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # nothing that a service prints gets into the answers
    for line in sys.stdin.buffer:
        problem = check_channel(Channel("judged", json.loads(line)))
        os.write(answers, json.dumps([problem]).encode("ascii") + b"\n")


if __name__ == "__main__":
    main()
